"""How the page is started: closed by default, opened on purpose, nothing reported home."""

from __future__ import annotations

import socket
import sys
from pathlib import Path

import pytest

from plugread.errors import PlugreadError
from plugread.page import launch, launch_words
from plugread.page.launch import Door

OWN = Door("127.0.0.1", "127.0.0.1", 8517, None, None)
PHONE = Door("0.0.0.0", "192.0.2.7", 8517, "s3cret", "engine_healthy")


def value(door: Door, flag: str) -> str:
    line = launch.command(door)
    return line[line.index(flag) + 1]


def test_closed_by_default() -> None:
    """Without the switch the page listens to this machine only and asks for no key."""
    assert value(OWN, "--server.address") == "127.0.0.1"
    assert launch.KEY_VARIABLE not in launch.environment(OWN)


def test_the_phone_door_has_a_key_and_knows_its_host() -> None:
    """Opened to the network, the key is in the address and in the page's environment, and other host names are refused."""
    assert PHONE.address == "http://192.0.2.7:8517/?key=s3cret&sample=engine_healthy"
    assert launch.environment(PHONE)[launch.KEY_VARIABLE] == "s3cret"
    assert value(PHONE, "--server.allowedHosts") == "192.0.2.7"


def test_an_old_key_is_not_inherited(monkeypatch: pytest.MonkeyPatch) -> None:
    """A key in the caller's environment does not lock or open the page."""
    monkeypatch.setenv(launch.KEY_VARIABLE, "old")
    assert launch.KEY_VARIABLE not in launch.environment(OWN)


def test_nothing_is_reported_home() -> None:
    """Usage figures, the e-mail question and links to search engines are off."""
    for flag in ("browser.gatherUsageStats", "server.showEmailPrompt", "client.showErrorLinks"):
        assert value(OWN, f"--{flag}") == "false"
    assert value(OWN, "--client.showErrorDetails") == "none"


def test_every_option_is_one_streamlit_knows() -> None:
    """A misspelt option would be passed over in silence by nobody but a test."""
    from streamlit import config

    known = set(config.get_config_options())
    assert set(launch.OPTIONS) | {"server.address", "server.port", "server.allowedHosts", "browser.serverAddress"} <= known


def test_a_taken_port_is_told() -> None:
    """A port in use gives one line that says what to do."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(PlugreadError, match="is taken; give another with --port"):
            launch._port(taken.getsockname()[1])


def test_an_unknown_sample_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """An unknown sample engine names those there are."""
    (tmp_path / "engine_x").mkdir()
    (tmp_path / "engine_x" / "case.toml").write_text("")
    monkeypatch.setattr(launch, "samples_dir", lambda: tmp_path)
    with pytest.raises(PlugreadError, match="no sample engine 'nope'; known: engine_x"):
        launch.launch(phone=False, sample="nope", port=None)


def test_the_warning_says_who_can_see() -> None:
    """The phone's lines warn of who gets in; the others need not."""
    assert "Anyone on this network" in launch_words.start(PHONE.address, phone=True)
    assert "Anyone" not in launch_words.start(OWN.address, phone=False)


def test_starting_loads_no_streamlit() -> None:
    """The command imports the launcher without the page's packages."""
    import subprocess

    code = "import sys, plugread.page.launch; print('streamlit' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "False"
