"""The clinic's pages answered by a thread of the tests, for browsers."""

import contextlib
import threading
import time

import uvicorn

LONGEST_S = 60


@contextlib.contextmanager
def answering(application, listening):
    """Answer at a socket that listens already, so that nobody else can be given its port."""
    server = uvicorn.Server(uvicorn.Config(application, log_config=None, lifespan="off"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        until = time.monotonic() + LONGEST_S
        while not server.started:
            assert thread.is_alive(), "the server ended while it started"
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.02)
        yield
    finally:
        server.should_exit = True
        thread.join(LONGEST_S)
    assert not thread.is_alive(), "the server did not end"
