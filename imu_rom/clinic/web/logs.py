"""One line of JSON a request: what was asked for, what came of it and how long it took.

The route stands there, never the address that was typed, since that may hold a token; ids, never names; nothing that
anybody wrote.
"""

import time

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from imu_rom.clinic.log_lines import log_line

__all__ = ["Logged"]


class Logged:
    """The outermost middleware.

    Parameters
    ----------
    application : ASGIApp
        What stands behind.
    """

    def __init__(self, application: ASGIApp) -> None:
        self.application = application

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on and write down what came of it."""
        if scope["type"] != "http":
            await self.application(scope, receive, send)
            return
        began, status = time.perf_counter(), 0

        async def noted(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.application(scope, receive, noted)
        finally:
            state = scope.get("state", {})
            log_line(
                "request",
                method=scope["method"],
                route=state.get("route"),
                status=status,
                account=state.get("account_id"),
                ms=round((time.perf_counter() - began) * 1000, 1),
            )
