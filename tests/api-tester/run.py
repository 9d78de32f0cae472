"""Starts a server with a small society on it, and lets the tester loose on it: once with ids that exist, once without."""

import json
import os
import pathlib
import shutil
import subprocess
import sys
import time
import urllib.request
import uuid

ROOT = pathlib.Path(__file__).resolve().parents[2]
PLACE = ROOT / "target" / "api-tester"
SERVER = ROOT / "target" / "debug" / "tarn-server"
# not the one of the document, which its examples would change, or leave with
PASSWORD = "ferns along the cold pipe"
# An answer without an end can't be read to its end.
ENDLESS = ["follow_stream"]
# The caller's own session must outlive the run; these come last.
ENDING = ["sign_out", "end_session"]
CHECKS = "not_a_server_error,status_code_conformance,content_type_conformance,response_schema_conformance"


def new_id():
    """A UUID of version 7 (RFC 9562)."""
    chance = bytearray(os.urandom(16))
    chance[:6] = int(time.time() * 1000).to_bytes(6, "big")
    chance[6] = chance[6] & 0x0F | 0x70
    chance[8] = chance[8] & 0x3F | 0x80
    return str(uuid.UUID(bytes=bytes(chance)))


class Society:
    """A club, its officer, a room with a tank and a stock."""

    def __init__(self, engine):
        data = PLACE / "data"
        shutil.rmtree(data, ignore_errors=True)
        data.mkdir(parents=True)
        self.environment = dict(os.environ)
        if engine == "postgres":
            if "DATABASE_URL" not in self.environment:
                sys.exit("postgres: DATABASE_URL names an empty database to use")
        else:
            self.environment.pop("DATABASE_URL", None)
        self.data = str(data)
        said = subprocess.run(
            [SERVER, "officer", "add", "--data", self.data, "--login", "mira", "--club", "Tidepool", "--role", "secretary"],
            check=True, env=self.environment, stdout=subprocess.PIPE, text=True,
        ).stdout
        self.log = open(PLACE / "server.log", "w")
        self.server = subprocess.Popen(
            [SERVER, "serve", "--data", self.data, "--listen", "127.0.0.1:0", "--trusted-proxy", "127.0.0.1"],
            env=self.environment, stdout=subprocess.PIPE, stderr=self.log, text=True,
        )
        self.url = self.server.stdout.readline().split("listening on ")[1].strip().rstrip("/")
        self.invitation = said.split()[-1]

    def call(self, method, path, body=None):
        # from elsewhere than the tester, whose wrong passwords hold its address up
        headers = {"content-type": "application/json", "x-forwarded-for": "192.0.2.7"}
        if getattr(self, "token", None):
            headers["authorization"] = f"Bearer {self.token}"
        request = urllib.request.Request(
            f"{self.url}/api/v1/{path}", method=method, headers=headers,
            data=None if body is None else json.dumps(body).encode(),
        )
        with urllib.request.urlopen(request) as answer:
            text = answer.read()
            return json.loads(text) if text else None

    def sign_in(self):
        """An access token is good for ten minutes; a run may take longer."""
        self.token = self.call("POST", "sessions", {"login_name": "mira", "password": PASSWORD})["access_token"]
        return self.token

    def fill(self):
        self.call("POST", "invitations/accept", {
            "token": self.invitation, "login_name": "mira", "shown_name": "Mira", "email": "mira@example.org",
            "password": PASSWORD,
        })
        self.sign_in()
        account = self.call("GET", "account")
        for role in ["health_steward", "treasurer", "librarian"]:
            self.call("PUT", f"clubs/{account['clubs'][0]['id']}/members/{account['id']}/roles/{role}")
        room, device, tank, stock = (new_id() for _ in range(4))
        self.call("POST", "rooms", {"id": room, "name": "Cellar", "zone": "UTC"})
        self.call("PUT", f"streams/{room}/devices/{device}", {"name": "a phone"})
        now = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime())
        bodies = [
            {"op": "tank.added", "tank": tank, "name": "A1"},
            {"op": "stock.established", "stock": stock, "tank": tank, "species": "Danio rerio", "rows": []},
        ]
        ops = [
            {"op": {"id": new_id(), "device": device, "clock": f"{now}.000Z/{n:04x}", "at": f"{now}Z", "body": body}}
            for n, body in enumerate(bodies)
        ]
        told = self.call("POST", f"streams/{room}/ops", {"ops": ops})
        assert all("seq" in result for result in told["results"]), told
        epoch = told["epoch"]
        self.ids = {
            "path.club": account["clubs"][0]["id"], "path.room": room, "path.stream": room, "path.device": device,
            "path.login": "mira", "path.account": account["id"], "query.epoch": epoch,
        }

    def stop(self):
        self.server.terminate()
        return self.server.wait(30)


def tester(society, examples, ids, name, which):
    settings = PLACE / f"{name}.toml"
    # the document's own words, in the tester's form
    lines = ["[parameters]"] + [f'"{where}" = "{value}"' for where, value in ids.items()]
    settings.write_text("\n".join(lines) + "\n")
    command = [
        str(pathlib.Path(sys.executable).parent / "schemathesis"), "--config-file", str(settings), "run",
        f"{society.url}/openapi.json", "--checks", CHECKS, "--max-examples", str(examples), "--phases",
        "examples,coverage,fuzzing", "--header", f"Authorization: Bearer {society.sign_in()}", "--continue-on-failure",
        "--seed", "1", "--request-timeout", "30",
    ]
    return subprocess.run(command + which, check=False).returncode


def flags(flag, operations):
    return [part for operation in operations for part in (flag, operation)]


def main():
    society = Society(sys.argv[1])
    try:
        society.fill()
        examples, rest = sys.argv[2], flags("--exclude-operation-id", ENDLESS + ENDING)
        codes = [
            tester(society, examples, society.ids, "ids", rest),
            tester(society, examples, {}, "no-ids", rest),
            tester(society, examples, {}, "ending", flags("--include-operation-id", ENDING)),
        ]
        alive = society.server.poll() is None
    finally:
        ended = society.stop()
    sys.exit(0 if not any(codes) and alive and ended == 0 else 1)


main()
