"""Train the surface net: which readings a close crop of a firing end looks like.

    python -m sample_images.render.training_world --world close --size 384x288 --seeds 0:20000 --workers 14 --gpu 0 --out DATA
    python -m sample_images.render.training_world --world close --size 384x288 --seeds 10000000:10000600 ... --out DATA/val
    python -m models.surface.train.fit --data DATA --out OUT --device cuda:0 --budget 1500
    python -m models.surface.train.export OUT

A crop is a square about the firing end in corrected light, as `plugread/reading/surface.py` cuts it. No real photo was used.
"""
