"""How the strings of a sound board may have stood, and which of their notes touch there, by the clearance
map.

A note touches when the least room under it, gap less swing, is below 0, blurred by all that the map leaves
out: P = normal(-room / blur). In order is a string that plays clean: whoever set it up let it down no further
than that. So a height in order weighs as much as the chance that nothing touches there, against the share
of all heights in order where nothing does.

Arrays end with the axes [string, scenario], some also with [step of the string's own height]; what is asked
about (pair, note, fret) comes first.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from webapp.setups.buzz.gaps import LEAST_DENSITY, Array, Floats, expit, log_box, log_sum, normal
from webapp.setups.buzz.scene import FROM_ABOVE, Scene
from webapp.trade.buzz import BuzzSheet

# A setting in order stands up to this far above the lowest clean action, at 12, mm; some stand higher still,
# which makes nothing buzz.
ROOM_ABOVE_MM, HIGH_MM, HIGH_SHARE = 0.9, 4.0, 0.15
# Where between these a string in order is tried for being clean: the middles of equal parts.
TRIED = (0.1, 0.3, 0.5, 0.7, 0.9)
# Where the neck pulled straight under it, a saddle left alone may stand this far below.
ROOM_BELOW_MM = 1.2
# A string that is too low has hardly this much to spare, and falls short by about so much.
HARDLY_MM, SHORT_MM = 0.08, 0.5
CLEAR_MM = 9.0
# No touch is surer than this, so that there is always a chance left of none.
SUREST = np.float32(1 - 1e-6)


@dataclass(frozen=True)
class BoardRooms:
    """The room under every note of every string."""

    scene: Scene
    sheet: BuzzSheet

    # the room under every note

    @cached_property
    def reach(self) -> tuple[Array, Array]:
        """[pair, string, way] and [over, string, way]: how deep a string swings that is let go in each
        way."""
        gaps, above = self.scene.gaps, np.array(FROM_ABOVE, dtype=np.float32)
        return (
            np.maximum(gaps.from_below[..., None], gaps.reach[..., None] * above),
            np.maximum(gaps.open_from_below[..., None], gaps.open_reach[..., None] * above),
        )

    @cached_property
    def swing(self) -> Array:
        """Open-string swings that may have been played, [string, scenario].

        A touch is what is just clean at its own height; let go in another way, that is another swing.
        """
        gaps, swing = self.scene.gaps, self.scene.swing_mm.astype(np.float32)
        bow = np.float32(self.scene.relief_target.middle) * gaps.per_relief
        height = np.max((gaps.reach * swing - bow) / gaps.per_action, axis=0)
        clean = np.min((gaps.per_action * height + bow)[..., None] / self.reach[0], axis=0)
        scenarios = self.scene.scenarios
        return np.asarray(clean[:, scenarios.above] * scenarios.harder)

    @cached_property
    def dips(self) -> tuple[Array, Array]:
        """How deep the plucked string comes, mm: [pair, string, scenario] and [over, string, scenario]."""
        above = self.scene.scenarios.above
        return self.reach[0][..., above] * self.swing, self.reach[1][..., above] * self.swing

    @cached_property
    def scale(self) -> Array:
        """From room in mm to blurs below it, [string, scenario].

        A touch is blurred by uneven frets, by plucks that differ, and by a bow that is not even.
        """
        sheet = self.sheet
        plucks = sheet.pluck_spread * np.mean(self.scene.gaps.reach, axis=0)[:, None] * self.swing
        bow = sheet.bow_spread * self.scene.scenarios.relief
        blur = np.sqrt(2 * sheet.fret_spread_mm**2 + plucks**2 + bow**2)
        return np.asarray(-1 / blur, dtype=np.float32)

    def chance(self, room: Array) -> Array:
        """Chance that a note with this least room touches; [..., string, scenario]."""
        return np.minimum(normal(room * self.scale), SUREST)

    def chance_by_step(self, room: Array) -> Array:
        """The same of [..., string, scenario, step]."""
        return np.minimum(normal(room * self.scale[..., None]), SUREST)

    @cached_property
    def level(self) -> Array:
        """What the bow leaves of the gaps, less the swing, [pair, string, scenario]."""
        return np.asarray(self.scene.gaps.per_relief[..., None] * self.scene.scenarios.relief - self.dips[0])

    @cached_property
    def notes(self) -> list[slice]:
        """The pairs of each fretted note with frets ahead."""
        ends = [0, *(int(i) + 1 for i in np.flatnonzero(np.diff(self.scene.gaps.fretted))), len(self.level)]
        return [slice(*edge) for edge in zip(ends, ends[1:], strict=False)]

    def least(self, room: Array) -> Array:
        """Of rooms [pair, ...] the least of each fretted note, [note, ...]; nothing is ahead of the last."""
        # Note by note: several times quicker than reduceat, which takes the pairs one number at a time.
        rows = [room[pairs].min(axis=0) for pairs in self.notes]
        return np.stack([*rows, np.full_like(rows[0], CLEAR_MM)])

    # heights: in order or not

    @cached_property
    def righted(self) -> Array:
        """`level` as it was when the setup was in order: a relief outside its target stood in the middle."""
        target, relief = self.scene.relief_target, self.scene.scenarios.relief
        inside = (relief > target.low) & (relief < target.high)
        right = np.where(inside, relief, np.float32(target.middle))
        return np.asarray(self.scene.gaps.per_relief[..., None] * right - self.dips[0])

    @cached_property
    def need(self) -> Array:
        """The lowest clean action of a sound setup, mm at 12 [string, scenario]."""
        need = np.max(-self.righted / self.scene.gaps.per_action[..., None], axis=0)
        return np.asarray(need + np.float32(self.sheet.need_margin_mm))

    @cached_property
    def spare(self) -> Array:
        """How far each height stands above that, [..., step]."""
        return np.asarray(self.scene.scenarios.action - self.need[..., None])

    def _between(self, low_mm: float, high_mm: float) -> Array:
        """Log weight of each height that has between so much and so much to spare."""
        within = log_box(self.spare, low_mm, high_mm, self.sheet.need_spread_mm)
        return np.asarray(self.scene.scenarios.action_log_weight + within)

    def _clean(self, action: Array) -> Array:
        """Chance that nothing touched at these heights when the setup was in order, [..., step].

        The note with least room decides: its neighbours share its frets and its pluck.
        """
        room = self.scene.gaps.per_action[..., None, None] * action + self.righted[..., None]
        return np.asarray(1 - self.chance_by_step(room.min(axis=0)))

    @cached_property
    def healthy(self) -> Array:
        """Log weight of each height if the string stands as it should, or higher, and plays clean, [...,
        step]."""
        high = self._between(ROOM_ABOVE_MM, HIGH_MM) + np.float32(np.log(HIGH_SHARE))
        within = np.logaddexp(self._between(0.0, ROOM_ABOVE_MM), high)
        tried = self.need[..., None] + np.float32(ROOM_ABOVE_MM) * np.array(TRIED, dtype=np.float32)
        share = self._clean(tried).mean(axis=-1, keepdims=True)
        return np.asarray(within + np.log(self._clean(self.scene.scenarios.action) / share))

    @cached_property
    def short(self) -> Array:
        """The same if it stands too low: a little more often than by much."""
        spare = self.spare - np.float32(HARDLY_MM)
        edge = expit(-spare / np.float32(self.sheet.need_spread_mm))
        density = edge * np.exp(np.minimum(spare, 0) / np.float32(SHORT_MM)) / np.float32(SHORT_MM)
        return np.asarray(self.scene.scenarios.action_log_weight + np.log(density + LEAST_DENSITY))

    @cached_property
    def left_alone(self) -> Array:
        """The same where the neck pulled straight under it: too low, or still in order."""
        return self._between(-ROOM_BELOW_MM, ROOM_ABOVE_MM)

    @cached_property
    def touch_by_step(self) -> Array:
        """Chance that each fretted note touches, [note, string, scenario, step]."""
        room = self.scene.gaps.per_action[..., None, None] * self.scene.scenarios.action
        return self.chance_by_step(self.least(room + self.level[..., None]))

    @cached_property
    def open_touch_by_step(self) -> Array:
        """The same of the open string, [nut, string, scenario, step]."""
        gaps, scenarios = self.scene.gaps, self.scene.scenarios
        held = gaps.open_per_action[..., None, None] * scenarios.action + self.open_level[..., None]
        room = held[:, None] + (gaps.open_per_nut[:, None] * scenarios.nut)[..., None, None]
        return self.chance_by_step(room.min(axis=0))

    # the height that is to be expected of a string in order

    @cached_property
    def stands(self) -> Floats:
        """Log chance that the string stands in order and plays clean, [string, scenario]."""
        return log_sum(self.healthy, axis=-1)

    @cached_property
    def action(self) -> Array:
        """mm at 12 [string, scenario]"""
        weight = np.exp(self.healthy - self.stands[..., None])
        return np.asarray((weight * self.scene.scenarios.action).sum(axis=-1), dtype=np.float32)

    @cached_property
    def room(self) -> Array:
        """Gap less swing at that height, [pair, string, scenario]."""
        return np.asarray(self.scene.gaps.per_action[..., None] * self.action + self.level)

    @cached_property
    def least_room(self) -> Array:
        """[note, string, scenario]"""
        return self.least(self.room)

    @cached_property
    def touch(self) -> Array:
        """Chance that each fretted note touches, [note, string, scenario]."""
        return self.chance(self.least_room)

    @cached_property
    def open_level(self) -> Array:
        """What the bow leaves of the open string's gaps, less the swing, [over, string, scenario]."""
        return np.asarray(
            self.scene.gaps.open_per_relief[..., None] * self.scene.scenarios.relief - self.dips[1]
        )

    @cached_property
    def open_room(self) -> Array:
        """Gap less swing of the open string over frets 1 and up, [over, nut, string, scenario]."""
        gaps = self.scene.gaps
        held = gaps.open_per_action[..., None] * self.action + self.open_level
        return np.asarray(held[:, None] + (gaps.open_per_nut[:, None] * self.scene.scenarios.nut)[..., None])

    @cached_property
    def open_least(self) -> Array:
        """[nut, string, scenario]"""
        return np.asarray(self.open_room.min(axis=0))

    @cached_property
    def open_touch(self) -> Array:
        """Chance that the open note touches, [nut, string, scenario]."""
        return self.chance(self.open_least)
