"""The learned locator: how its two nets are trained. Needs torch; nothing here is used when a photo is read.

Order of work (from the repository's root; DATA is a folder of shards from `sample_images.render`)::

    python -m models.locator.train.negatives .whl/negatives.npz        # photos without a plug, once, where the wheels are
    python -m models.locator.train.run --data DATA --out OUT --budget 900 --seconds 560
    python -m models.locator.train.run --data DATA --out OUT --budget 900 --seconds 400   # goes on where the first stopped
    python -m models.locator.train.pack --data DATA --split val --out OUT/val_pack.npz    # a few pictures to take home
    python -m models.locator.train.export OUT                          # -> models/locator/*.onnx and card.json
    python -m models.locator.train.evaluate OUT/val_pack.npz           # the finder as shipped

`run --smoke` goes through all steps on a few pictures in under a minute, on any machine.
With two GPUs the large net ("fine") has the first and the small one ("quick") the second, learning from the large one's
latest weights as they come; with one GPU the large net has the first 70 % of the time.
"""
