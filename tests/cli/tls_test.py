#!/usr/bin/python3
# SPDX-FileCopyrightText: 2026 Shimsight developers
# SPDX-License-Identifier: MIT
"""The encrypted bench page, asked by curl as a browser would: by a certificate that the shop made itself.

Usage: tls_test.py --shimsight BINARY
"""
import argparse
import json
import pathlib
import re
import subprocess
import tempfile
import unittest

binary = ""


class Encrypted(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.out = pathlib.Path(self.folder.name)
        self.certificate, self.key = self.out / "cert.pem", self.out / "key.pem"
        subprocess.run(["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=shop",
                        "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", self.key, "-out", self.certificate],
                       check=True, capture_output=True)

    def tearDown(self):
        self.folder.cleanup()

    def serve(self, certificate, key):
        return subprocess.Popen([binary, "serve", "--port", "0", "--jobs", self.out / "jobs", "--tls", certificate, key],
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)

    def curl(self, *words):
        return subprocess.run(["curl", "--silent", "--show-error", "--max-time", "60", *map(str, words)],
                              capture_output=True, text=True, check=False)

    def test_page_and_change(self):
        server = self.serve(self.certificate, self.key)
        try:
            for line in server.stdout:
                if found := re.search(r"(https://127\.0\.0\.1:\d+)/#([0-9a-f]{32})-[0-9a-f]{64}", line):
                    origin, code = found.groups()
                    break
            trusted = ["--cacert", self.certificate]
            page = self.curl(*trusted, "--write-out", "%{http_version} %{ssl_verify_result}", origin + "/")
            self.assertEqual(page.returncode, 0, page.stderr)
            self.assertIn("<main", page.stdout)
            self.assertTrue(page.stdout.endswith("1.1 0"), page.stdout[-20:])
            token = ["--header", f"X-Shimsight-Token: {code}", "--header", f"X-Shimsight-Request: {1:032x}",
                     "--header", "Content-Type: application/json"]
            body = json.dumps({"new_gear_set": {"name": "a set", "pinion_teeth": 11, "ring_teeth": 43,
                                                "ring_gear_diameter_mm": 222, "offset_mm": 36}, "axle": "Van 1"})
            foreign = self.curl(*trusted, *token, "--header", f"Origin: {origin.replace('https', 'http')}", "--data",
                                body, origin + "/api/jobs")
            self.assertIn("error", json.loads(foreign.stdout))
            made = self.curl(*trusted, *token, "--header", f"Origin: {origin}", "--data", body, origin + "/api/jobs")
            self.assertIn("job", json.loads(made.stdout), made.stderr)
            # Who does not know the certificate gets nothing, and so does who speaks plainly.
            self.assertNotEqual(self.curl(origin + "/").returncode, 0)
            self.assertNotIn("<main", self.curl(origin.replace("https", "http") + "/").stdout)
        finally:
            server.terminate()
            server.communicate(timeout=60)
        self.assertEqual(server.returncode, 0)

    def address(self, server):
        told = ""
        for line in server.stdout:
            told += line
            if found := re.search(r"(https://127\.0\.0\.1:\d+)/#([0-9a-f]{32})-([0-9a-f]{64})", told):
                if "valid until" in told:
                    return *found.groups(), told
        self.fail(told)

    def test_own_certificate(self):
        """Made at the first use, kept, told by its fingerprint; its key is for its owner alone."""
        command = [binary, "serve", "--port", "0", "--jobs", self.out / "jobs", "--tls"]
        prints = []
        for _ in range(2):
            server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
            try:
                origin, _, print_, told = self.address(server)
                prints.append(print_)
                own = self.out / "jobs/.shimsight-server"
                self.assertEqual((own / "certificate-key.pem").stat().st_mode & 0o777, 0o600)
                # As openssl has it, and as a person compares it: two lines of pairs.
                said = subprocess.run(["openssl", "x509", "-noout", "-fingerprint", "-sha256", "-in",
                                       own / "certificate.pem"], check=True, capture_output=True, text=True).stdout
                pairs = said.strip().split("=")[1]
                self.assertEqual(pairs.replace(":", "").lower(), print_)
                self.assertIn(pairs, re.sub(r"\s", "", told))
                page = self.curl("--cacert", own / "certificate.pem", origin + "/")
                self.assertIn("<main", page.stdout, page.stderr)
                self.assertNotEqual(self.curl(origin + "/").returncode, 0)
                names = subprocess.run(["openssl", "x509", "-noout", "-ext", "subjectAltName,basicConstraints", "-in",
                                        own / "certificate.pem"], check=True, capture_output=True, text=True).stdout
                self.assertIn("IP Address:127.0.0.1", names)
                self.assertIn("CA:FALSE", names)
            finally:
                server.terminate()
                server.communicate(timeout=60)
            self.assertEqual(server.returncode, 0)
        self.assertEqual(prints[0], prints[1], "the same at the next start")

    def test_one_file_alone(self):
        done = subprocess.run([binary, "serve", "--jobs", self.out / "jobs", "--tls", self.certificate],
                              capture_output=True, text=True, check=False, timeout=60)
        self.assertEqual(done.returncode, 2)
        self.assertIn("no file, or two", done.stderr)

    def test_files_that_do_not_belong_together(self):
        other = self.out / "other.pem"
        subprocess.run(["openssl", "genrsa", "-out", other, "2048"], check=True, capture_output=True)
        server = self.serve(self.certificate, other)
        _, told = server.communicate(timeout=60)
        self.assertEqual(server.returncode, 1)
        self.assertIn("cannot be used together", told)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--shimsight", required=True)
    options, rest = parser.parse_known_args()
    binary = options.shimsight
    unittest.main(argv=[__file__, *rest])
