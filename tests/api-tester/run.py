"""Starts a server with a small society on it, and lets the tester loose on it: once with ids that exist, once without."""

import pathlib
import subprocess
import sys

from society import ROOT, Society

PLACE = ROOT / "target" / "api-tester"
# An answer without an end can't be read to its end.
ENDLESS = ["follow_stream"]
# The caller's own session must outlive the run; these come last.
ENDING = ["sign_out", "end_session"]
CHECKS = "not_a_server_error,status_code_conformance,content_type_conformance,response_schema_conformance"


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
    society = Society(sys.argv[1], PLACE)
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
