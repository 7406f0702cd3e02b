"""What stands behind a code, and what did it become?"""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser

from batches.management.nursery_command import NurseryCommand
from batches.services.trace import Node, trail_of


class Command(NurseryCommand):
    help = (
        "Trace a tray, batch, lot, origin or medium batch back to where it came from and forward "
        "to every tray and dispatch it became."
    )
    example = "manage.py trace 26W14-073-05-E --json"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("code", help="the code on a label")

    def answer(self, *, code: str, **_: Any) -> dict[str, Any]:
        """Walk the trail both ways."""
        trail = trail_of(code=code)
        return {
            "code": trail.start.code,
            "kind": trail.start.kind,
            "back": [_as_json(node) for node in trail.back],
            "forward": [_as_json(node) for node in trail.forward],
            "edges": [
                [edge.giver.code, edge.taker.code, edge.left, edge.arrived] for edge in trail.edges
            ],
        }

    def in_words(self, found: dict[str, Any]) -> None:
        self.stdout.write(f"{found['kind']} {found['code']}")
        for way in ("back", "forward"):
            self.stdout.write(f"{way}:")
            for node in found[way]:
                self.stdout.write(f"  {node['kind']:<9} {node['code']}")
        for giver, taker, left, arrived in found["edges"]:
            if left is not None:
                self.stdout.write(f"  {giver} -> {taker}: {left} left, {arrived} arrived")


def _as_json(node: Node) -> dict[str, str]:
    return {"code": node.code, "kind": node.kind}
