"""The learned locator: how its two nets are trained. Needs torch; nothing here is used when a photo is read.

Order of work, from the repository's root; DATA is a folder of shards from `sample_images.render.training_world`, OUT stays
on the training machine, HOME is what is carried back::

    python -m models.locator.train.negatives .whl/negatives.npz      # photos without a plug; once, where the wheels are
    python -m models.locator.train.run --data DATA --out OUT --home HOME --budget 1000 --seconds 560 --no-score
    python -m models.locator.train.run --data DATA --out OUT --home HOME --budget 1000 --seconds 540   # goes on, then scores
    python -m models.locator.train.pack --data DATA --split val --count 160 --out HOME/val_pack.npz
    python -m models.locator.train.pack --data DATA --split test --count 160 --out HOME/test_pack.npz
    python -m models.locator.train.export HOME                       # at home: models/locator/*.onnx and card.json
    python -m models.locator.train.evaluate HOME/test_pack.npz       # at home: the finder as shipped

`run --smoke` goes through all steps on a few pictures in under a minute, on any machine.
With two GPUs the large net ("fine") has the first and the small one ("quick") the second, learning from the large one's
latest weights as they come; with one GPU the large net has the first 70 % of each command. `--watch` takes in new shards
every half minute, so that training can start while pictures are still being rendered; `--wait N` delays the start until N
are there; `--until EPOCH` ends the command by the clock, scoring included. Checkpoints are written every 45 s, so a command
that is cut off loses no more than that. All pictures are held on each GPU: 1.6 MB each, 26 GB for the default 16000; add
about 30 GB for the large net's steps. HOME: two weight files (8 and 2 MB), two score files, two packs of about 9 MB.
"""
