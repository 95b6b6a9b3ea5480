"""Every command line of validation/phenomena/*/README.md draws its picture. Arguments: emberpipe, source folder."""
import glob
import os
import shlex
import subprocess
import sys
import tempfile

program, source = sys.argv[1:3]
failed = 0
folders = sorted(glob.glob(os.path.join(source, "validation/phenomena/*/")))
with tempfile.TemporaryDirectory() as out:
    for folder in folders:
        name = os.path.basename(folder[:-1])
        with open(os.path.join(folder, "README.md"), encoding="utf-8") as f:
            lines = [line.strip() for line in f if line.startswith("emberpipe plot ")]
        if not lines:
            print(f"FAIL {name}: its README.md has no line that begins with 'emberpipe plot'")
            failed += 1
        for line in lines:
            words = shlex.split(line)[1:]
            at = words.index("--to") + 1
            words[at] = os.path.join(out, words[at])
            done = subprocess.run([program] + words + ["--quiet"], cwd=source, capture_output=True, text=True, timeout=120)
            with open(words[at], "rb") if os.path.exists(words[at]) else open(os.devnull, "rb") as f:
                drawn = f.read(8) == b"\x89PNG\r\n\x1a\n"
            if done.returncode != 0 or not drawn:
                print(f"FAIL {name}: exit {done.returncode}, picture {drawn}: {done.stderr.strip()[:300]}")
                failed += 1
print(f"{len(folders)} phenomena, {failed} failed")
sys.exit(failed > 0 or not folders)
