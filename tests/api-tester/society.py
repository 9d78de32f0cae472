"""A server with a small society on it: a club, its officer, a room with a tank and a stock."""

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
SERVER = ROOT / "target" / "debug" / "tarn-server"
# not the one of the document, which examples of it would change, or leave with
PASSWORD = "ferns along the cold pipe"


def new_id():
    """A UUID of version 7 (RFC 9562)."""
    chance = bytearray(os.urandom(16))
    chance[:6] = int(time.time() * 1000).to_bytes(6, "big")
    chance[6] = chance[6] & 0x0F | 0x70
    chance[8] = chance[8] & 0x3F | 0x80
    return str(uuid.UUID(bytes=bytes(chance)))


class Society:
    """Starts the server, with its files in `place`; `fill` makes the rest."""

    def __init__(self, engine, place):
        data = place / "data"
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
        self.log = open(place / "server.log", "w")
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
