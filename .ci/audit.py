"""Ask whether any pinned package has a known vulnerability; say loudly where that could not be asked.

Usage: python .ci/audit.py [requirements.txt]. Fails if one is known; not if the service can't be reached, since
that says nothing about the packages.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

TIMEOUT_S = 120
# Known ones that do not touch this project: the identifier, and why it doesn't.
ACCEPTED: dict[str, str] = {}


def main(requirements: str) -> int:
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        command = [sys.executable, "-m", "pip_audit", "--requirement", requirements, "--require-hashes"]
        command += ["--disable-pip", "--progress-spinner", "off", "--format", "json", "--output", str(report)]
        for known in ACCEPTED:
            command += ["--ignore-vuln", known]
        try:
            run = subprocess.run(command, timeout=TIMEOUT_S, capture_output=True, text=True, check=False)
        except subprocess.TimeoutExpired:
            return not_run(f"no answer within {TIMEOUT_S} s")
        if not report.is_file():
            last = run.stderr.strip().splitlines()[-1:] or ["no report"]
            return not_run(last[0])
        packages = json.loads(report.read_text())["dependencies"]
    return judge(packages)


def judge(packages: list[dict]) -> int:
    """Tell what a report says; a package that was passed over was not audited, whatever the exit code."""
    asked = [one for one in packages if "vulns" in one]
    passed_over = [one["name"] for one in packages if "vulns" not in one]
    if not asked:
        return not_run(f"the service knows none of the {len(packages)} packages, so it is not the real one")
    if passed_over:
        print(f"Not audited, the service doesn't know them: {', '.join(passed_over)}")
    found = [(one, vulnerability) for one in asked for vulnerability in one["vulns"]]
    for one, vulnerability in found:
        mended = ", ".join(vulnerability.get("fix_versions") or []) or "no version yet"
        print(f"VULNERABLE: {one['name']} {one['version']}, {vulnerability['id']}; mended in {mended}")
    print(f"{len(asked)} packages audited, {len(found)} known vulnerabilities")
    return 1 if found else 0


def not_run(why: str) -> int:
    line = "!" * 100
    print(f"{line}\nTHE AUDIT OF DEPENDENCIES DID NOT RUN: {why}\n{line}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else "requirements.txt"))
