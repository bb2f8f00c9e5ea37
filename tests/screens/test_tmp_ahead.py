import sys

sys.path.insert(0, "/work/main/tests/screens")
import asyncio

from screens_hand import *
from textual import events


async def test_a(read, clock):
    async with opened(read, clock) as hand:
        for key in ("r", "down", "e", "3", "0", "0", "enter", "2"):
            hand.app.post_message(events.Key(key, key if len(key) == 1 else None))
        await asyncio.sleep(1)
        await hand.settle()
        print(hand.text)
        print(hand.entries()[-2:])
        assert 0
