"""A chat server for the tests: Debian's prosody on this machine alone, in a folder of its own."""

import shutil
import socket
import subprocess
import time
from pathlib import Path

import pytest

DOMAIN = "tandaluwe.example"
PASSWORD = "only for tests"
US = "programme"
PROSODY = shutil.which("prosody")
OPENSSL = shutil.which("openssl")
needs_prosody = pytest.mark.skipif(
    PROSODY is None or OPENSSL is None,
    reason="needs the programs prosody and openssl: apt-get install prosody openssl",
)

CONFIG = """
run_as_root = true
daemonize = false
pidfile = "{folder}/prosody.pid"
data_path = "{folder}/data"
certificates = "{folder}"
interfaces = {{ "127.0.0.1" }}
c2s_ports = {{ {port} }}
modules_enabled = {{ "saslauth", "smacks", "disco", "ping", "offline"{tls} }}
modules_disabled = {{ "s2s" }}
authentication = "internal_plain"
c2s_require_encryption = false
log = {{ warn = "{folder}/prosody.log" }}
VirtualHost "{domain}"
ssl = {{ certificate = "{folder}/cert.pem"; key = "{folder}/key.pem" }}
"""


class OwnProsody:
    """A server with an account for each phone named."""

    def __init__(self, folder: Path, phones=("+447700900001",), *, tls: bool = True) -> None:
        self.folder = folder
        self.ca_file = folder / "cert.pem"
        self._data = folder / "data" / DOMAIN.replace(".", "%2e")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._certify()
        for name in (US, *(phone.removeprefix("+") for phone in phones)):
            self.add_account(name)
        named = ', "tls"' if tls else ""
        config = CONFIG.format(folder=folder, port=self.port, tls=named, domain=DOMAIN)
        (folder / "prosody.cfg.lua").write_text(config)
        self._process: subprocess.Popen | None = None
        self.start()

    def add_account(self, name: str, password: str = PASSWORD) -> None:
        accounts = self._data / "accounts"
        accounts.mkdir(parents=True, exist_ok=True)
        (accounts / f"{name}.dat").write_text(f'return {{ ["password"] = "{password}"; }};\n')

    def forget(self) -> None:
        """Drop what waits for those who are not there."""
        for waiting in (self._data / "offline").glob("*"):
            waiting.unlink()

    def options(self, folder: Path, **more: str) -> dict[str, str]:
        """What a gateway needs to sign in as the programme, without TLS."""
        password_file = folder / "password"
        password_file.write_text(f"{PASSWORD}\n")
        return {
            "jid": f"{US}@{DOMAIN}",
            "password_file": str(password_file),
            "domain": DOMAIN,
            "host": "127.0.0.1",
            "port": str(self.port),
            "allow_plain": "true",
            **more,
        }

    def start(self) -> None:
        with (self.folder / "console").open("ab") as console:
            self._process = subprocess.Popen(
                [PROSODY, "-F", "--config", str(self.folder / "prosody.cfg.lua")],
                stdout=console,
                stderr=console,
            )
        give_up_at = time.monotonic() + 15
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return
            except OSError:
                assert self._process.poll() is None, self.said()
                assert time.monotonic() < give_up_at, self.said()
                time.sleep(0.02)

    def stop(self, *, kill: bool = False) -> None:
        if self._process is not None:
            (self._process.kill if kill else self._process.terminate)()
            self._process.wait(15)
            self._process = None

    @property
    def pid(self) -> int:
        return self._process.pid

    def said(self) -> str:
        texts = [self.folder / "console", self.folder / "prosody.log"]
        return "\n".join(text.read_text() for text in texts if text.exists())

    def _certify(self) -> None:
        subprocess.run(
            [
                *(OPENSSL, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
                *("-subj", f"/CN={DOMAIN}", "-addext", f"subjectAltName=DNS:{DOMAIN}"),
                *("-keyout", str(self.folder / "key.pem"), "-out", str(self.ca_file)),
            ],
            check=True,
            capture_output=True,
        )
