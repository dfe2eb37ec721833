"""Logs: JSON lines with request ids, and nothing that people wrote."""

import json
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path


def test_a_request_leaves_one_json_line_without_its_content_or_token(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "service", "serve", "--data", str(tmp_path), "--port", "0"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    address = process.stdout.readline().split()[-1]
    token = process.stdout.readline().split()[-1]
    request = urllib.request.Request(
        address + "/v1/tab/readings",
        json.dumps({"text": "32514251 secret", "instrument": "banjo"}).encode(),
        {"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    request_id = ""
    try:
        urllib.request.urlopen(request, timeout=10)
    except urllib.error.HTTPError as refused:
        request_id = refused.headers["x-request-id"]
        refused.close()
    process.send_signal(signal.SIGTERM)
    _, written = process.communicate(timeout=20)
    (line,) = [json.loads(line) for line in written.splitlines()]
    assert {k: line[k] for k in ("event", "level", "method", "path", "status", "request_id")} == {
        "event": "request", "level": "info", "method": "POST", "path": "/v1/tab/readings", "status": 422,
        "request_id": request_id,
    }  # fmt: skip
    assert line["ms"] > 0
    assert "secret" not in written
    assert token not in written
