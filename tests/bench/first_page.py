"""The first request of a new process, in seconds: `python -m tests.bench.first_page ADDRESS`. See `pages`."""

import sys

from tests.bench.configured import configure

if __name__ == "__main__":
    configure()
    from tests.bench.measure import seconds
    from tests.bench.pages import owner

    client = owner()
    sys.stdout.write(str(seconds(lambda: client.get(sys.argv[1]))))
