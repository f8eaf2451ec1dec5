#!/usr/bin/python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""Attacks `shimsight serve` on loopback and tells, for each attack, the server's most memory and how long a paired
phone's light page took meanwhile.

Usage: attack.py BINARY [ATTACK...]        (without names: all; --list names them)

Exit status 1 when an attack took more memory than kMaxMb or a light page took longer than kMaxSeconds.
"""
import gzip
import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time

kMaxMb, kMaxSeconds = 300, 1.0
kDripSeconds = 25


class Served:
    """A server in a folder of its own. Phones come from 127.0.0.3, attackers from 127.0.0.2."""

    def __init__(self, binary):
        self.binary = binary
        self.folder = tempfile.TemporaryDirectory()
        self.start()

    def start(self):
        self.remarks = self.folder.name + "/stderr"
        with open(self.remarks, "w") as remarks:
            self.process = subprocess.Popen(
                [self.binary, "serve", "--port", "0", "--jobs", self.folder.name + "/jobs"],
                stdout=subprocess.PIPE, stderr=remarks, text=True)
        text = ""
        while "valid until" not in text:
            line = self.process.stdout.readline()
            if not line:
                raise SystemExit("the server did not start")
            text += line
        port, self.token = re.search(r":(\d+)/#([0-9a-f]{32})", text).groups()
        self.port = int(port)

    def megabytes(self, what):
        try:
            with open(f"/proc/{self.process.pid}/status") as status:
                return int(re.search(what + r":\s+(\d+)", status.read()).group(1)) / 1000
        except (FileNotFoundError, AttributeError):
            return float("nan")

    def remarked(self, part, seconds):
        """Whether the server says `part` on its standard error, or ends, within `seconds`."""
        until = time.monotonic() + seconds
        while time.monotonic() < until and self.process.poll() is None:
            with open(self.remarks) as remarks:
                if part in remarks.read():
                    return True
            time.sleep(0.05)
        return self.process.poll() is not None

    def end(self):
        self.process.kill()
        self.process.wait()
        self.folder.cleanup()


class Phone(threading.Thread):
    """Asks for a light page every fifth of a second, each time anew; keeps the longest wait."""

    def __init__(self, served, address):
        super().__init__(daemon=True)
        self.served, self.address, self.longest, self.failed, self.ending = served, address, 0.0, 0, False

    def run(self):
        while not self.ending:
            start = time.monotonic()
            try:
                one = http.client.HTTPConnection("127.0.0.1", self.served.port, timeout=20,
                                                 source_address=(self.address, 0))
                one.request("GET", "/api/jobs", headers={"X-Shimsight-Token": self.served.token})
                self.failed += one.getresponse().status != 200
                one.close()
            except (OSError, http.client.HTTPException):
                self.failed += 1
            self.longest = max(self.longest, time.monotonic() - start)
            time.sleep(0.2)


def connect(served):
    one = socket.socket()
    one.settimeout(30)
    one.bind(("127.0.0.2", 0))
    one.connect(("127.0.0.1", served.port))
    return one


def send(served, *pieces):
    """Sends all pieces, however the server takes it; the status that it answered, or what happened."""
    one = connect(served)
    try:
        for piece in pieces:
            one.sendall(piece)
    except OSError:
        pass
    try:
        answer = one.recv(200).split(b"\r\n")[0].decode()
    except OSError:
        answer = ""
    one.close()
    return answer or "closed"


def head(method, path, *lines, host="127.0.0.1"):
    return ("\r\n".join([f"{method} {path} HTTP/1.1", "Host: " + host, *lines]) + "\r\n\r\n").encode()


def at_once(count, action):
    results = [None] * count

    def run(i):
        results[i] = action()
    threads = [threading.Thread(target=run, args=(i,)) for i in range(count)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    return results


def bomb(megabytes, **how):
    body = gzip.compress(bytes(megabytes * 1_000_000), 9)
    return [head("POST", "/api/jobs", "Content-Encoding: gzip", f"Content-Length: {len(body)}", **how), body]


def gzip_one(served):
    return send(served, *bomb(600, host="evil.example"))


def gzip_eight(served):
    pieces = bomb(400)
    return at_once(8, lambda: send(served, *pieces))[0]


def gzip_sixty(served):
    pieces = bomb(20, host="evil.example")
    answers = [send(served, *pieces) for _ in range(60)]
    return ", ".join(f"{answers.count(a)} x {a}" for a in sorted(set(answers)))


def chunked(served):
    piece = b"100000\r\n" + b"x" * 0x100000 + b"\r\n"
    return send(served, head("POST", "/api/jobs", "Transfer-Encoding: chunked"), *[piece] * 500)


def request_line(served):
    return send(served, b"GET /" + b"a" * 1000, *[b"a" * 1_000_000] * 300, b" HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")


def header_line(served):
    return send(served, b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ", *[b"a" * 1_000_000] * 300, b"\r\n\r\n")


def header_count(served):
    line = b": " + b"a" * 7990 + b"\r\n"
    return send(served, b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n", *[b"X%d" % i + line for i in range(40_000)], b"\r\n")


def chunk_line(served):
    return send(served, head("POST", "/api/jobs", "Transfer-Encoding: chunked"), b"1;", *[b"a" * 1_000_000] * 200)


def drip(served, count, first, seconds=kDripSeconds):
    """Connections that each send a byte every two seconds."""
    held = []
    for _ in range(count):
        try:
            one = connect(served)
            one.sendall(first)
            held.append(one)
        except OSError:
            pass
    lost, end = 0, time.monotonic() + seconds
    while time.monotonic() < end:
        time.sleep(2)
        for one in list(held):
            try:
                one.sendall(b"a")
            except OSError:
                held.remove(one)
                lost += 1
    for one in held:
        one.close()
    return f"{count - lost} of {count} still held at the end"


def drip_headers(served):
    return drip(served, 64, b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ")


def drip_bodies(served):
    return drip(served, 64, head("POST", "/api/jobs", "Content-Length: 1000000"))


def drip_many(served):
    return drip(served, 900, b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ")


def ranges(served):
    many = ",".join(f"{i % 10}-" for i in range(900))
    one = connect(served)
    one.sendall(head("GET", "/page.css", "Range: bytes=" + many, "Connection: close"))
    size = 0
    try:
        while piece := one.recv(1_000_000):
            size += len(piece)
    except OSError:
        pass
    return f"{size / 1e6:.2f} MB for a request of {len(many) / 1000:.0f} kB"


def unread(served):
    """Large answers that nobody takes."""
    held = [connect(served) for _ in range(90)]
    for one in held:
        one.sendall(head("GET", "/lesson/three.js"))
    time.sleep(5)
    for one in held:
        one.close()
    return "90 answers asked for and not read"


def stop(served):
    """SIGTERM while a client without the code drips a body."""
    one = connect(served)
    one.sendall(head("POST", "/api/jobs", "Content-Length: 1000000"))
    start = time.monotonic()
    served.process.send_signal(signal.SIGTERM)
    while time.monotonic() - start < 40 and served.process.poll() is None:
        try:
            one.sendall(b"a")
        except OSError:
            pass
        time.sleep(0.5)
    ended = served.process.poll() is not None
    one.close()
    return f"ended after {time.monotonic() - start:.1f} s" if ended else "still running after 40 s"


def ask(served, method, path, body=None, number=None):
    one = http.client.HTTPConnection("127.0.0.1", served.port, timeout=30)
    headers = {"X-Shimsight-Token": served.token}
    if number is not None:
        headers["X-Shimsight-Request"] = f"{number:032x}"
    one.request(method, path, body if isinstance(body, (bytes, type(None))) else json.dumps(body), headers)
    answer = one.getresponse()
    return answer.status, json.loads(answer.read())


def send_trials(served, photo, jobs=3, trials=8):
    """Trials of one photo each, sent as quickly as they are taken; the requests that were accepted, by job."""
    gear_set = {"name": "Van", "pinion_teeth": 11, "ring_teeth": 41, "ring_gear_diameter_mm": 220, "offset_mm": 35}
    accepted = {}
    for j in range(jobs):
        job = ask(served, "POST", "/api/jobs", {"axle": f"Van {j}", "new_gear_set": gear_set}, 1000 + j)[1]["job"]
        accepted[job] = []
        for t in range(trials):
            number = 2000 + 100 * j + t
            ask(served, "PUT", f"/api/uploads/{number:032x}?offset=0&size={len(photo)}", photo)
            body = {"photos": [{"upload": f"{number:032x}", "side": "drive"}]}
            if ask(served, "POST", f"/api/jobs/{job}/trials", body, number)[0] == 202:
                accepted[job].append(f"{number:032x}")
    return accepted


def stop_twice(served):
    """Ctrl-C twice while trials wait: it ends at once, and the next start reads them.

    The second one comes when the server has said that it is stopping, as a person's would: two signals that come before
    it has had the processor are one to the kernel."""
    sample = os.path.join(os.path.dirname(__file__), "../../samples/van-b-good/drive.jpg")
    with open(sample, "rb") as file:
        accepted = send_trials(served, file.read())
    served.process.send_signal(signal.SIGINT)
    if not served.remarked("stopping", 30):
        return "LATE: not stopping after 30 s"
    start = time.monotonic()
    if served.process.poll() is None:
        served.process.send_signal(signal.SIGINT)
    try:
        status = served.process.wait(timeout=40)
    except subprocess.TimeoutExpired:
        return "still running after 40 s"
    seconds = time.monotonic() - start
    served.start()
    there, end = 0, time.monotonic() + 120
    wanted = sum(len(one) for one in accepted.values())
    while there < wanted and time.monotonic() < end:
        time.sleep(0.5)
        there = 0
        for job, numbers in accepted.items():
            trials = ask(served, "GET", f"/api/jobs/{job}")[1]["record"]["trials"]
            there += sum([one.get("request") for one in trials].count(number) == 1 for number in numbers)
    kept = "kept" if there == wanted else "LOST"
    return f"{'ended' if seconds < 1 else 'LATE'} after {seconds:.1f} s with status {status}, {kept} {there} of {wanted}"


def worker_of(served):
    """The process that reads a trial; every thread of the server may have started it."""
    for task in os.listdir(f"/proc/{served.process.pid}/task"):
        with open(f"/proc/{served.process.pid}/task/{task}/children") as file:
            for child in file.read().split():
                return int(child)
    return None


def reader_killed(served):
    """The process that reads a trial ends in the middle, as by a photo that breaks it; the queue goes on (paired)."""
    sample = os.path.join(os.path.dirname(__file__), "../../samples/van-b-good/drive.jpg")
    with open(sample, "rb") as file:
        (job, numbers), = send_trials(served, file.read(), jobs=1, trials=2).items()
    until, confined = time.monotonic() + 60, False
    while time.monotonic() < until:
        worker = worker_of(served)
        if worker is None:
            continue
        try:
            with open(f"/proc/{worker}/status") as status:
                confined = re.search(r"Seccomp:\s+2", status.read()) is not None
            if confined:
                os.kill(worker, signal.SIGSEGV)
                break
        except (FileNotFoundError, ProcessLookupError):
            continue
    states = {}
    while len(states) < 2 and time.monotonic() < until:
        time.sleep(0.2)
        for number in numbers:
            task = ask(served, "GET", f"/api/tasks/{number}")[1]
            if task["state"] in ("done", "failed"):
                states[number] = task
    first, second = (states.get(number, {"state": "waiting", "error": None}) for number in numbers)
    right = confined and first["state"] == "failed" and second["state"] == "done"
    return f"{'one worker lost' if right else 'WRONG'}: {first['state']} ({first['error']}), then {second['state']}"


def second_server(served):
    """A second server on the same folder while trials wait."""
    done = subprocess.run([served.binary, "serve", "--port", "0", "--jobs", served.folder.name + "/jobs"],
                          capture_output=True, text=True, timeout=20, check=False)
    return f"{'refused' if done.returncode == 1 else 'RUNS'}: {done.stderr.strip().split(': ')[-1][:60]}"


kAttacks = {"gzip-one": gzip_one, "gzip-eight": gzip_eight, "gzip-sixty": gzip_sixty, "chunked": chunked,
            "request-line": request_line, "header-line": header_line, "header-count": header_count,
            "chunk-line": chunk_line, "drip-headers": drip_headers, "drip-bodies": drip_bodies,
            "drip-900": drip_many, "ranges": ranges, "unread": unread, "second": second_server,
            "reader-killed": reader_killed, "stop": stop, "stop-twice": stop_twice}


def attack(binary, name):
    served = Served(binary)
    phones = [Phone(served, address) for address in ("127.0.0.3", "127.0.0.2")]
    try:
        for phone in phones:
            phone.start()
        time.sleep(1)
        answer = kAttacks[name](served)
        peak = served.megabytes("VmHWM")
        for phone in phones:
            phone.ending = True
        if not name.startswith("stop"):
            for phone in phones:
                phone.join()
    finally:
        served.end()
    print(f"{name:13} {peak:6.0f} MB  page {phones[0].longest:5.2f} s, from the attacker's address "
          f"{phones[1].longest:5.2f} s, {phones[0].failed + phones[1].failed} failed  {answer}", flush=True)
    if name.startswith("stop"):
        return "ended" in answer and "LOST" not in answer
    if name == "reader-killed" and "one worker lost" not in answer:
        return False
    if name == "second" and "refused" not in answer:
        return False
    return peak < kMaxMb and phones[0].longest < kMaxSeconds and phones[0].failed == 0


def main():
    if len(sys.argv) < 2 or sys.argv[1] == "--list":
        print("\n".join(kAttacks) if len(sys.argv) > 1 else __doc__)
        return 0 if len(sys.argv) > 1 else 2
    names = sys.argv[2:] or list(kAttacks)
    return 0 if all([attack(sys.argv[1], name) for name in names]) else 1


if __name__ == "__main__":
    sys.exit(main())
