"""Run one laptop's stand in a process of its own, to be killed: `python -m tests.web.first_laptop JOURNAL PORT`.

It prints the address that opens it with the stepping key. Its journal is a real file, its ports are in memory.
"""

import sys
import time
from pathlib import Path

from scenebook.live.caller import Caller
from scenebook.live.engine import Engine
from scenebook.live.records import replayed
from scenebook.storage.journal import Journal, read_journal
from scenebook.web.app import create_app
from scenebook.web.keys import FileKeyStore, Keys, Right
from scenebook.web.serving import serve
from tests.support.build import GIG, RIG
from tests.support.running import MemoryPorts, library_on_stage


def main() -> None:
    """Serve until the end of the process."""
    path, library = Path(sys.argv[1]), library_on_stage()
    journal = Journal(path)
    caller = Caller(library, GIG, RIG, standing=replayed(read_journal(path).records))
    engine = Engine(caller, MemoryPorts(("box front",)), journal, {}, library=library, gig=GIG, rig=RIG)
    engine.start()
    keys = Keys(FileKeyStore(path.with_suffix(".keys")))
    serving = serve(create_app(engine, keys, records=journal), port=int(sys.argv[2]))
    print(serving.address(f"/open/{keys.key(Right.STEP)}"), flush=True)
    time.sleep(600)


if __name__ == "__main__":
    main()
