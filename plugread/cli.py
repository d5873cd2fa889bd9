"""The command line: `plugread read | diagnose | train | rules | page`.

Data go to stdout, messages to stderr. Exit codes: 0 done, 2 wrong use, 3 input could not be read.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from plugread import __version__
from plugread.errors import ModelError, PlugreadError

THREADS = ("M14x1.25", "M12x1.25", "M10x1.0", "M18x1.5")
RULES = "rules"
MODEL_HELP = "folder of a taught model (see train) to read with where it knows the look; 'rules' reads by the colour rules alone"
DONE, WRONG_USE, UNREADABLE, INTERRUPTED = 0, 2, 3, 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    args = parser().parse_args(argv)
    try:
        return int(args.run(args))
    except PlugreadError as problem:
        print(f"plugread: {problem}", file=sys.stderr)
        return UNREADABLE
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except KeyboardInterrupt:
        return INTERRUPTED


def parser() -> argparse.ArgumentParser:
    """Return the parser of all commands."""
    top = argparse.ArgumentParser(
        prog="plugread", description="Read spark plugs: what each says, which differs, why, what to check next."
    )
    top.add_argument("--version", action="version", version=f"plugread {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_read(commands)
    _add_diagnose(commands)
    _add_train(commands)
    _add_rules(commands)
    _add_page(commands)
    return top


# ---- read ------------------------------------------------------------------------------------------------


def _add_read(commands: Any) -> None:
    read = commands.add_parser("read", help="measure and read photos of firing ends")
    read.add_argument("photos", nargs="+", metavar="PHOTO", help="JPEG, PNG, WebP or AVIF; one plug, or a row of plugs")
    read.add_argument("--json", action="store_true", help="print one JSON document")
    read.add_argument(
        "--nose", type=_box, metavar="X,Y,W,H", help="box of the nose in the upright picture, if it is not found or found wrongly"
    )
    read.add_argument("--lineup", type=_count, metavar="N", help="the photo shows a row of N plugs")
    read.add_argument(
        "--thread", choices=THREADS, metavar="SIZE", help=f"thread of the plugs, the scale for the gap: {', '.join(THREADS)}"
    )
    read.add_argument("--masks", type=Path, metavar="DIR", help="write the nose mask of NAME.jpg to DIR/NAME.png")
    read.add_argument("--explain", type=Path, metavar="DIR", help="write a picture of what was found to DIR/NAME.jpg")
    read.add_argument("--quick", action="store_true", help="look at a smaller picture: quicker, a little coarser")
    read.add_argument("--model", type=Path, metavar="MODEL", help=MODEL_HELP)
    read.set_defaults(run=_read)


def _box(text: str) -> tuple[int, int, int, int]:
    try:
        x, y, w, h = (int(part) for part in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a box; write X,Y,W,H in whole pixels, like 820,410,160,220") from None
    if w <= 0 or h <= 0 or x < 0 or y < 0:
        raise argparse.ArgumentTypeError(f"{text!r} has no area inside the picture; width and height must be above 0")
    return x, y, w, h


def _count(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 12:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of plugs from 1 to 12")
    return int(text)


def _read(args: argparse.Namespace) -> int:
    from plugread.pipeline import read_photo
    from plugread.records import PlugType
    from plugread.report.documents import photo_document
    from plugread.report.text import photo_text

    how = {"nose_box": args.nose, "expected": args.lineup, "quick": args.quick, "plug": PlugType(thread=args.thread)}
    model = _model(args.model)
    reads = [read_photo(photo, **how, model=model) for photo in args.photos]
    for path, photo in zip(args.photos, reads, strict=True):
        _write_pictures(args, path, photo)
    if args.json:
        print(json.dumps([photo_document(photo) for photo in reads], ensure_ascii=False, indent=1))
    else:
        print("\n\n".join(photo_text(photo) for photo in reads))
    refused = [photo for photo in reads if photo.status == "refused"]
    for photo in refused:
        print(f"plugread: {photo.file}: {photo.why}", file=sys.stderr)
    return UNREADABLE if len(refused) == len(reads) else DONE


def _model(folder: Path | None) -> Any:
    """Return the model asked for, else the shipped one; a bad one is told in one line and the colour rules carry on."""
    from plugread.pipeline import default_model
    from plugread.reading.by_classifier import load

    if str(folder) == RULES:
        return None
    try:
        return default_model() if folder is None else load(folder)
    except ModelError as problem:
        print(f"plugread: {problem}; the colour rules read instead", file=sys.stderr)
        return None


def _write_pictures(args: argparse.Namespace, path: str, photo: Any) -> None:
    if photo.size is None:
        return
    from plugread.photo.pictures import write_explanation, write_mask

    if args.masks:
        write_mask(photo, args.masks / f"{Path(path).stem}.png")
    if args.explain:
        write_explanation(path, photo, args.explain / f"{Path(path).stem}.jpg")


# ---- diagnose, train, rules, page ------------------------------------------------------------------------


def _add_diagnose(commands: Any) -> None:
    diagnose = commands.add_parser("diagnose", help="rank causes and next checks for a case file, and decide")
    diagnose.add_argument("case", metavar="CASE", help="a case file (TOML or JSON)")
    diagnose.add_argument("--json", action="store_true", help="print one JSON document")
    diagnose.add_argument("--model", type=Path, metavar="MODEL", help=MODEL_HELP)
    diagnose.set_defaults(run=_diagnose)


def _diagnose(args: argparse.Namespace) -> int:
    from plugread.casefile import load_case
    from plugread.pipeline import default_rules, diagnose_case
    from plugread.report.documents import diagnosis_document
    from plugread.report.text import diagnosis_text

    rules = default_rules()
    case = load_case(args.case, rules)
    diagnosis = diagnose_case(case, rules=rules, model=_model(args.model))
    if args.json:
        print(json.dumps(diagnosis_document(diagnosis), ensure_ascii=False, indent=1))
    else:
        print(diagnosis_text(diagnosis, case, rules))
    return DONE


def _add_train(commands: Any) -> None:
    train = commands.add_parser(
        "train",
        help="teach the optional classifier with your own photos",
        description="Learns from FOLDER/READING/PLUG-SHOT.jpg, READING being a reading id such as carbon_fouled. A groups.csv "
        "beside the photos (file,plug,engine,light,nose) may say more. Prints a report that tells whether to trust the model.",
    )
    train.add_argument("folder", type=Path, metavar="FOLDER", help="one sub-folder of confirmed photos for each reading")
    train.add_argument("--out", type=Path, required=True, metavar="MODEL", help="folder to write the model to")
    train.add_argument("--about", default="", metavar="TEXT", help="where the photos come from, for the model card")
    train.add_argument("--jobs", type=_count, default=os.cpu_count() or 1, metavar="N", help="photos to measure at once")
    train.add_argument("--json", action="store_true", help="print the model card as one JSON document")
    train.set_defaults(run=_train)


def _train(args: argparse.Namespace) -> int:
    from plugread.pipeline import portrait
    from plugread.reading.training.report import report_text
    from plugread.reading.training.train import train

    progress = _bar if sys.stderr.isatty() else None
    card = train(args.folder, args.out, portrait, jobs=args.jobs, about=args.about, progress=progress)
    print(json.dumps(card, ensure_ascii=False, indent=1) if args.json else report_text(card))
    print(f"plugread: model, card and pictures written to {args.out}", file=sys.stderr)
    return DONE


def _bar(done: int, of: int) -> None:
    """Draw how many photos are measured, on one line of the terminal."""
    full = 30 * done // of
    print(f"\rmeasuring {'#' * full}{'.' * (30 - full)} {done}/{of}", end="\n" if done == of else "", file=sys.stderr, flush=True)


def _add_rules(commands: Any) -> None:
    rules = commands.add_parser("rules", help="check the rule base and list it with its sources")
    rules.set_defaults(run=_rules)


def _rules(_: argparse.Namespace) -> int:
    from plugread.rules.listing import listing
    from plugread.rules.load import load_rules

    print(listing(load_rules()))
    return DONE


def _add_page(commands: Any) -> None:
    page = commands.add_parser("page", help="open the bench page in the browser")
    page.add_argument("--sample", nargs="?", const="engine_one_odd", metavar="NAME", help="open with a sample engine")
    page.add_argument("--phone", action="store_true", help="let phones on this network in, with a one-time key in the address")
    page.add_argument("--port", type=int, metavar="N", help="port to listen on")
    page.set_defaults(run=_page)


def _page(args: argparse.Namespace) -> int:
    from plugread.page.launch import launch

    return launch(phone=args.phone, sample=args.sample, port=args.port)
