"""The routes, one module a part of the product."""

from __future__ import annotations

from fastapi import APIRouter


def all_routers() -> tuple[APIRouter, ...]:
    """Return the routers of every part."""
    from steadfeed.web import pairing, stream
    from steadfeed.web.routes import challenges, hand_over, instruments, meta, practice, queue, records, visits

    return (
        meta.router,
        records.router,
        visits.router,
        hand_over.router,
        challenges.router,
        instruments.router,
        practice.router,
        queue.router,
        stream.router,
        pairing.router,
    )
