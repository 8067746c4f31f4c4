"""Pull, feel and tunings; weights from a packet; and what a neck's own readings say of its relief."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.setups.journals import Bench, spec_of
from webapp.physics.strings import LoadChange, pitch_hz
from webapp.setups.case import Case
from webapp.setups.journal import Journal, Part
from webapp.setups.load import (
    Basis,
    compare,
    estimated_kg_m,
    feel,
    load_on,
    sets_for,
    shifted,
    tuned,
    tunings_for,
    weight_of,
)
from webapp.setups.pull import (
    LOAD_AFTER,
    LOAD_BEFORE,
    ReliefPull,
    pull_pairs,
    relief_forecast,
    relief_per_newton,
)
from webapp.setups.say import Say
from webapp.setups.weights import (
    WeightError,
    WeightUnit,
    format_weight,
    keeping_weights,
    parse_weight,
    with_known_weights,
)
from webapp.trade.load import Trade
from webapp.trade.spec import StringSpec
from webapp.trade.words import Family

UW = WeightUnit.POUND_PER_INCH
EXPECTED = 0.00665  # kg/m, a .045 wound bass string


def restrung(bench: Bench, before_n: float, after_n: float) -> None:
    """Other strings, with the pull before and after written down."""
    entry = bench.turn(Part.STRINGS)
    loads = {LOAD_BEFORE: before_n, LOAD_AFTER: after_n}
    bench.entries[-1] = replace(entry, detail={**entry.detail, **loads})


class TestWeight:
    def test_the_packet_comes_before_print_and_print_before_an_estimate(self, trade: Trade) -> None:
        printed = StringSpec(note="G2", gauge_mm=1.143, wound=True)
        packet = printed.model_copy(update={"unit_weight_kg_m": 0.007})
        odd = printed.model_copy(update={"gauge_mm": 1.16})
        bases = [weight_of(trade, Family.BASS, s).basis for s in (packet, printed, odd)]
        assert bases == [Basis.PACKET, Basis.PUBLISHED, Basis.ESTIMATE]
        assert weight_of(trade, Family.BASS, packet).kg_m == 0.007
        assert weight_of(trade, Family.BASS, odd).spread_percent > 0

    def test_the_thinnest_wound_string_still_has_a_core(self, trade: Trade) -> None:
        nylon = trade.string_stock.material(Family.CLASSICAL, True)
        assert 0 < estimated_kg_m(nylon, 0.3) < estimated_kg_m(nylon, 0.5)


class TestLoad:
    def test_the_total_is_the_sum(self, trade: Trade) -> None:
        load = load_on(spec_of(), trade)
        assert load.total_n == pytest.approx(sum(s.tension_n for s in load.strings))
        assert [s.label for s in load.strings] == ["E string", "A string", "D string", "G string"]
        assert [s.number for s in load.strings] == [4, 3, 2, 1]

    def test_fanned_frets_pull_harder_on_the_longer_side(self, trade: Trade) -> None:
        straight = load_on(spec_of(), trade)
        fanned = load_on(spec_of(scale_bass_mm=939.8), trade)
        ratios = [f.tension_n / s.tension_n for f, s in zip(fanned.strings, straight.strings, strict=True)]
        assert ratios == sorted(ratios, reverse=True)
        assert ratios[0] == pytest.approx((939.8 / 863.6) ** 2)
        assert ratios[-1] == pytest.approx(1)

    def test_a_lower_reference_pitch_pulls_less(self, trade: Trade) -> None:
        low, usual = (load_on(spec_of(a4_hz=a4), trade).total_n for a4 in (415.0, 440.0))
        assert low / usual == pytest.approx((415 / 440) ** 2)

    def test_a_comparison_names_the_new_strings_by_their_new_notes(self, trade: Trade) -> None:
        spec = spec_of()
        down = [s.model_copy(update={"note": shifted(s.note, -2)}) for s in spec.strings]
        compared = compare(spec, trade, down)
        assert [c.after.label for c in compared.strings] == ["D string", "G string", "C string", "F string"]
        assert compared.feel.words == "much softer"
        assert compared.change.relief_goes == -1


class TestFeel:
    @pytest.mark.parametrize(
        ("percent", "words", "number"),
        [(0, "about the same", "0 %"), (-2.9, "about the same", "−3 %"), (3, "a little stiffer", "+3 %"),
         (-7.9, "a little softer", "−8 %"), (8, "stiffer", "+8 %"), (-19, "softer", "−19 %"),
         (21, "much stiffer", "+21 %"), (-50, "much softer", "−50 %")],
    )  # fmt: skip
    def test_words(self, percent: float, words: str, number: str) -> None:
        found = feel(200, 200 * (1 + percent / 100 + 1e-12))
        assert (found.words, found.number) == (words, number)


class TestTuning:
    def test_every_tuning_of_every_kind_has_notes_that_can_be_played(self, trade: Trade) -> None:
        for kind in trade.kinds.values():
            for tuning in tunings_for(kind.spec, trade):
                notes = tuned(kind.spec, trade, tuning)
                assert [pitch_hz(n) for n in notes] == sorted(pitch_hz(n) for n in notes), tuning.key

    def test_down_from_the_usual_notes_not_from_the_present_ones(self, trade: Trade) -> None:
        low = tuple(s.model_copy(update={"note": shifted(s.note, -5)}) for s in spec_of().strings)
        spec = spec_of(strings=low)
        tunings = trade.string_stock.tunings
        assert tuned(spec, trade, tunings["usual"]) == ("E1", "A1", "D2", "G2")
        assert tuned(spec, trade, tunings["half_down"]) == ("Eb1", "Ab1", "Db2", "Gb2")

    def test_an_instrument_with_another_count_has_its_own_usual_notes(self, trade: Trade) -> None:
        spec = spec_of(strings=spec_of().strings[:3])
        assert tuned(spec, trade, trade.string_stock.tunings["tone_down"]) == ("D1", "G1", "C2")
        assert sets_for(spec, trade) == ()

    def test_a_note_below_all_notes_is_refused(self) -> None:
        assert shifted("Bb0", 0) == "Bb0"
        assert shifted("B0", -11) == "C0"
        with pytest.raises(ValueError, match="moved"):
            shifted("B0", -12)


class TestPacket:
    @pytest.mark.parametrize(
        ("text", "unit", "kg_m"),
        [("0.00037240 lb/in", WeightUnit.GRAM_PER_METRE, 0.0066504), (".00037240", UW, 0.0066504),
         ("0,00037240", UW, 0.0066504), ("3.724e-4", UW, 0.0066504), ("6.65 g/m", UW, 0.00665),
         ("6.65 G/M", UW, 0.00665), ("0.00665", WeightUnit.KILOGRAM_PER_METRE, 0.00665),
         ("0.00665kg/m", UW, 0.00665), ("0.0003724 lbs/inch", UW, 0.0066504)],
    )  # fmt: skip
    def test_as_printed(self, text: str, unit: WeightUnit, kg_m: float) -> None:
        assert parse_weight(text, unit, 1.143, EXPECTED) == pytest.approx(kg_m, rel=1e-4)

    @pytest.mark.parametrize(
        ("text", "unit", "words"),
        [("light", UW, "as it is printed"), ("6.65 stone", UW, "as it is printed"),
         ("-0.0003", UW, "as it is printed"), ("1.2.3", UW, "as it is printed"), ("0", UW, "more than 0"),
         ("0.00037240", WeightUnit.GRAM_PER_METRE, "Is it in lb/in?"),
         ("6.65", UW, "far too heavy for a 1.14 mm string. Is it in g/m?"),
         ("0.0000372 lb/in", UW, "far too light for a 1.14 mm string, which weighs about 0.00037"),
         ("1e99", UW, "decimal places")],
    )  # fmt: skip
    def test_what_cannot_be_is_said_plainly(self, text: str, unit: WeightUnit, words: str) -> None:
        with pytest.raises(WeightError) as caught:
            parse_weight(text, unit, 1.143, EXPECTED)
        assert words in caught.value.sentence

    @pytest.mark.parametrize("unit", WeightUnit)
    def test_what_is_shown_reads_the_same(self, unit: WeightUnit) -> None:
        shown = format_weight(0.0066504, unit)
        assert parse_weight(shown, UW, 1.143, EXPECTED) == pytest.approx(0.0066504, rel=2e-4)

    def test_weights_stay_with_the_same_strings(self) -> None:
        old = tuple(s.model_copy(update={"unit_weight_kg_m": s.gauge_mm / 100}) for s in spec_of().strings)
        new = [s.model_copy(update={"unit_weight_kg_m": None}) for s in old]
        new[0] = new[0].model_copy(update={"gauge_mm": 2.54})
        new[1] = new[1].model_copy(update={"note": "G1"})
        high = StringSpec(note="C3", gauge_mm=0.8, wound=True)
        found = with_known_weights([*new, high], old)
        assert [s.unit_weight_kg_m for s in found] == [None, *(s.unit_weight_kg_m for s in old[1:]), None]

    def test_two_strings_alike_keep_their_own_weights(self) -> None:
        pair = tuple(
            StringSpec(note=n, gauge_mm=1.0, wound=True, unit_weight_kg_m=w)
            for n, w in (("A1", 0.005), ("B1", 0.0052), ("D2", 0.0051))
        )
        assert with_known_weights(pair, pair) == pair

    def test_a_corrected_description_keeps_weights_as_typed(self) -> None:
        strings = list(spec_of().strings)
        strings[3] = strings[3].model_copy(update={"unit_weight_kg_m": 0.00665})
        typed = {"weight_1": "6.65", "weight_unit": "g/m", "gauge_1": "45"}
        before = spec_of(strings=tuple(strings), typed=typed)
        after = keeping_weights(spec_of(name="Renamed", typed={"scale": "34"}), before)
        assert after.string(1).unit_weight_kg_m == 0.00665
        assert after.typed == {"scale": "34", "weight_1": "6.65", "weight_unit": "g/m"}
        thinner = spec_of(strings=(*strings[:3], StringSpec(note="G2", gauge_mm=1.016, wound=True)))
        assert keeping_weights(thinner, before).string(1).unit_weight_kg_m is None
        assert "weight_1" not in keeping_weights(thinner, before).typed


class TestReliefPull:
    def test_a_pair_around_a_change_of_known_pull(self) -> None:
        bench = Bench()
        bench.reading("relief", 0.30)
        restrung(bench, 800, 900)
        bench.wait(hours=20)
        bench.reading("relief", 0.38)
        shown = relief_per_newton(bench.case())
        assert shown is not None and shown.pairs == 1
        assert shown.mm_per_n == pytest.approx(0.0008)
        assert shown.error_mm_per_n == pytest.approx(2**0.5 * 0.02 / 100)
        assert shown.clear

    def test_least_squares_over_several(self) -> None:
        """Answers 0.09 for 100 N and -0.10 for -200 N: (100 * 0.09 + 200 * 0.10) / (100**2 + 200**2)."""
        bench = Bench()
        for before, after, relief in ((0, 0, 0.30), (800, 900, 0.39), (900, 700, 0.29)):
            if before:
                restrung(bench, before, after)
            bench.reading("relief", relief)
        shown = relief_per_newton(bench.case())
        assert shown is not None and shown.pairs == 2
        assert shown.mm_per_n == pytest.approx(29 / 50000)

    def test_the_newest_reading_after_counts_and_two_changes_add_up(self) -> None:
        bench = Bench()
        bench.reading("relief", 0.25)
        bench.reading("relief", 0.30)
        restrung(bench, 800, 850)
        restrung(bench, 850, 900)
        bench.reading("relief", 0.33)
        bench.wait(hours=20)
        bench.reading("relief", 0.36)
        [pair] = pull_pairs(bench.case())
        assert pair.newton == pytest.approx(100)
        assert pair.relief_mm == pytest.approx(0.06)

    def test_readings_of_another_way_are_converted(self) -> None:
        bench = Bench()
        bench.reading("relief", 0.30)
        restrung(bench, 800, 900)
        bench.reading("relief", 0.53, hold=1, press=20, gap=8)
        [pair] = pull_pairs(bench.case())
        assert pair.relief_mm == pytest.approx(0, abs=0.01)

    @pytest.mark.parametrize(
        "spoilt", ["rod", "unnamed", "season", "same", "nothing before", "nothing after"]
    )
    def test_what_proves_nothing(self, spoilt: str) -> None:
        bench = Bench()
        if spoilt != "nothing before":
            bench.reading("relief", 0.30)
        restrung(bench, 800, 803 if spoilt == "same" else 900)
        if spoilt == "rod":
            bench.turn(Part.ROD, 1)
        if spoilt == "unnamed":
            bench.turn(Part.STRINGS)
        if spoilt == "season":
            bench.wait(days=60)
        if spoilt != "nothing after":
            bench.reading("relief", 0.38)
        assert relief_per_newton(bench.case()) is None

    def test_what_was_struck_through_does_not_count(self) -> None:
        bench = Bench()
        bench.reading("relief", 0.30)
        restrung(bench, 800, 900)
        slip = bench.reading("relief", 3.8)
        bench.correct(slip, 0.38)
        [pair] = pull_pairs(bench.case())
        assert pair.relief_mm == pytest.approx(0.08)

    def test_earlier_setups_teach_too(self) -> None:
        earlier, now = Bench(), Bench()
        earlier.reading("relief", 0.30)
        restrung(now, 800, 900)
        now.reading("relief", 0.38)
        past = Journal.of(earlier.entries)
        case = now.case()
        both = Case(case.spec, case.trade, case.journal, case.now, case.say, (past,))
        assert relief_per_newton(case) is None
        assert len(pull_pairs(both)) == 1

    def test_readings_that_disagree_make_it_less_sure(self) -> None:
        def shown(second: float) -> ReliefPull:
            bench = Bench()
            bench.reading("relief", 0.30)
            restrung(bench, 800, 900)
            bench.reading("relief", 0.40)
            restrung(bench, 900, 800)
            bench.reading("relief", second)
            found = relief_per_newton(bench.case())
            assert found is not None
            return found

        assert shown(0.50).error_mm_per_n > 2 * shown(0.30).error_mm_per_n


class TestReliefForecast:
    def test_only_the_direction_until_the_neck_has_shown_more(self) -> None:
        found = relief_forecast(LoadChange(800, 900), None, Say())
        assert found.words.startswith("More pull: more relief.")
        assert "not shown yet" in found.words and found.amount == ""
        assert relief_forecast(LoadChange(900, 800), None, Say()).words.startswith("Less pull: less relief.")

    def test_the_same_pull_moves_nothing(self) -> None:
        found = relief_forecast(LoadChange(800, 806), ReliefPull(0.001, 0.0001, 3), Say())
        assert "stays about the same" in found.words and found.amount == ""

    def test_by_how_much_from_its_own_readings(self) -> None:
        found = relief_forecast(LoadChange(800, 900), ReliefPull(0.0008, 0.0003, 2), Say())
        assert found.amount == "0.08 mm more, give or take 0.03 mm"
        assert "2 changes of strings" in found.rests_on
        assert relief_forecast(LoadChange(900, 800), ReliefPull(0.0008, 0.0003, 1), Say()).amount.startswith(
            "0.08 mm less"
        )

    def test_a_neck_that_goes_the_other_way_is_believed(self) -> None:
        found = relief_forecast(LoadChange(800, 900), ReliefPull(-0.0008, 0.0003, 2), Say())
        assert found.words == "More pull: less relief."

    def test_readings_within_their_own_error_show_nothing(self) -> None:
        found = relief_forecast(LoadChange(800, 900), ReliefPull(0.0002, 0.0003, 1), Say())
        assert "do not show it clearly yet" in found.words and found.amount == ""
