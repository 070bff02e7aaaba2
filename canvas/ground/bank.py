"""What a swale or drain is made of: a channel, a bank below it, sills, ends."""

from __future__ import annotations

import math
from dataclasses import dataclass

from canvas.ground.crosssection import FREE_M, BankSection, Channel, CrossSection, bound, run_out


@dataclass(frozen=True, slots=True)
class Sill:
    """A lowered stretch of the bank where water is let over, level along its length."""

    #: Middle of it, along the line.
    at_m: float
    length_m: float
    #: Its level above the channel's lip; below the bank's top.
    above_lip_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Works:
    """What a swale or drain is made of. Levels count from the lip, the line's own level."""

    channel: Channel
    bank: BankSection
    #: Level ground left between channel and bank.
    berm_m: float = 0.0
    #: Slope the hill above the channel is cut back to, run per rise.
    cut_batter: float = 1.0
    sills: tuple[Sill, ...] = ()
    #: The bank is carried round an end and on uphill until the ground stands as high; without,
    #: the end is left open. First the line's start, then its end.
    end_blocks: tuple[bool, bool] = (True, True)
    #: Built higher by this share, to settle to its height.
    settlement: float = 0.0

    @property
    def crest_m(self) -> float:
        """Distance of the bank's middle from the channel's, once settled."""
        bank = self.bank
        return self.channel.top_m / 2 + self.berm_m + bank.inner * bank.height_m + bank.top_m / 2

    @property
    def full_m(self) -> float:
        """Level the water stands at when it starts to leave: the lowest sill, or the bank's top."""
        return min([self.bank.height_m, *(sill.above_lip_m for sill in self.sills)])

    @property
    def freeboard_m(self) -> float:
        """Height of the settled bank above the full water."""
        return self.bank.height_m - self.full_m

    def area_m2(self, above_lip_m: float | None = None, hill_slope: float = math.inf) -> float:
        """Return the water's cross-section, up to `full_m` unless a level is given.

        The channel's own, and above the lip the berm and what lies between the bank's wet face
        and the hill: its cut, and where the ground is gentler than the cut (`hill_slope`, a
        ratio; the line's own level is the lip's), the wedge on the ground beyond it.
        """
        level = self.full_m if above_lip_m is None else above_lip_m
        lip, half = self.channel.depth_m, self.channel.top_m / 2
        if level <= 0:
            return self.channel.area_m2(max(lip + level, 0.0))
        width = self.channel.top_m + self.berm_m
        sides = (self.cut_batter + self.bank.inner) / 2
        area = self.channel.area_m2(lip) + level * (width + sides * level)
        gentler = 1 / hill_slope - self.cut_batter if hill_slope > 0 else math.inf
        if 0 < gentler < math.inf and level > half / gentler:
            start = half / gentler
            area += gentler * (level**2 - start**2) / 2 - half * (level - start)
        return area

    def section(self) -> CrossSection:
        """Return the bounds on the ground, the bank on the right."""
        lip = self.channel.top_m / 2
        shape = self.channel.shape()
        top = self.bank.height_m
        foot = lip + self.berm_m
        inner = foot + self.bank.inner * top
        outer = inner + self.bank.top_m
        low = [
            (-lip - 1e-6, -FREE_M),
            *shape,
            (foot, 0.0),
            (inner, top),
            (outer, top),
            run_out(outer, top, -1 / self.bank.outer, 1),
        ]
        # The hill on either side may stand higher than the bank, never steeper than its cut.
        reach = max(self.cut_batter, 0.02)
        high = [
            run_out(-lip, 0.0, 1 / reach, -1),
            *shape,
            *([(foot, 0.0)] if self.berm_m > 0 else []),
        ]
        face = min(reach, self.bank.inner) if self.bank.inner > 0 else reach
        high.append(run_out(foot, 0.0, 1 / max(face, 0.02), 1))
        return CrossSection(bound([(-10 * lip, -FREE_M), *low]), bound(high), (-lip, foot))
