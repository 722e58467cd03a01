"""One line a check, as `cargo xtask test` counts them: `ok NAME`, `FAILED NAME: why`, `skipped: NAME: reason`.

The closing line is for people; the caller counts the lines above it.
"""

import sys
import traceback


class Report:
    """Prints and counts."""

    def __init__(self):
        self.passed = self.failed = self.skipped = 0

    def check(self, name, holds, why_not=""):
        """One check that holds or does not."""
        if holds:
            self.passed += 1
            print(f"ok {name}")
        else:
            self.failed += 1
            print(f"FAILED {name}: {why_not}")
        sys.stdout.flush()

    def skip(self, name, reason):
        """One check that cannot run here."""
        self.skipped += 1
        print(f"skipped: {name}: {reason}")

    def attempt(self, name, action):
        """Runs `action(name)`; an exception inside is one failed check, shown on stderr."""
        try:
            action(name)
        except Exception as error:  # a library may raise anything on a bad file
            traceback.print_exc()
            self.check(name, False, f"{type(error).__name__}: {error}")

    def close(self):
        """Prints the totals; exit code 1 if anything failed."""
        print(f"{self.passed} passed, {self.failed} failed, {self.skipped} skipped")
        sys.exit(1 if self.failed else 0)
