"""Pull, feel and tunings, and weights from a packet."""

from __future__ import annotations

import pytest

from tests.setups.journals import Bench, spec_of
from webapp.physics.strings import pitch_hz
from webapp.setups.strings.string_setting import starting_places
from webapp.setups.strings.tension import (
    Basis,
    compare,
    estimated_kg_m,
    feel,
    load_on,
    retuned,
    sets_for,
    shifted,
    strung_with,
    tuned,
    tunings_for,
    weight_of,
)
from webapp.setups.strings.weights import (
    WeightError,
    WeightUnit,
    format_weight,
    keeping_weights,
    parse_weight,
    with_known_weights,
)
from webapp.trade.content import Trade
from webapp.trade.spec import StringSpec
from webapp.trade.words import Family

UW = WeightUnit.POUND_PER_INCH
EXPECTED = 0.00665  # kg/m, a .045 wound bass string


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


class TestCourses:
    """Twelve strings in pairs: six courses, and two strings pull in each."""

    def test_the_pull_is_that_of_both_sets_of_six(self, trade: Trade) -> None:
        spec = spec_of("acoustic_12")
        thick = [StringSpec(note=s.note, gauge_mm=s.gauge_mm, wound=s.wound) for s in spec.strings]
        thin = [StringSpec(**s.partner.model_dump()) for s in spec.strings if s.partner]
        both, low, high = (load_on(spec, trade, worn) for worn in (None, thick, thin))
        assert [s.number for s in both.strings] == [6, 5, 4, 3, 2, 1]
        assert both.total_n == pytest.approx(low.total_n + high.total_n)
        for course, one, other in zip(both.strings, low.strings, high.strings, strict=True):
            assert course.pull_n == pytest.approx(one.tension_n + other.tension_n)
            # What stretches under the finger, and swings, is still the one string.
            assert course.tension_n == pytest.approx(one.tension_n)

    def test_a_partner_that_is_only_estimated_is_said(self, trade: Trade) -> None:
        spec = spec_of("acoustic_12")
        packet = tuple(s.model_copy(update={"unit_weight_kg_m": 0.005}) for s in spec.strings)
        alone = tuple(s.model_copy(update={"partner": None}) for s in packet)
        assert [s.number for s in load_on(spec, trade, packet).estimated] == [6, 5, 4, 3, 2, 1]
        assert load_on(spec, trade, packet).spread_percent == 5
        assert load_on(spec, trade, alone).estimated == ()
        assert load_on(spec, trade, alone).spread_percent == 0

    def test_what_is_printed_is_said_with_its_source_and_the_rest_is_estimated(self, trade: Trade) -> None:
        load = load_on(spec_of(), trade)
        assert [s.number for s in load.estimated] == [4, 3, 2]
        assert len(load.sources) == 1

    def test_a_pair_goes_to_another_note_together(self, trade: Trade) -> None:
        string = spec_of("acoustic_12").strings[0]
        assert [one.note for one in retuned(string, "D2").course] == ["D2", "D3"]
        assert retuned(string, "E2") == string
        assert retuned(spec_of().strings[0], "D1").partner is None
        with pytest.raises(ValueError, match="moved"):
            retuned(string, "G8")

    def test_a_set_of_pairs_is_strung_at_the_same_notes(self, trade: Trade) -> None:
        spec = spec_of("acoustic_12")
        heavy = trade.string_sets["acoustic_12_12"]
        strung = tuple(map(strung_with, spec.strings, heavy.strings))
        assert [[one.note for one in s.course] for s in strung] == [
            [one.note for one in s.course] for s in spec.strings
        ]
        assert strung[0].partner is not None and strung[0].partner.gauge_mm == pytest.approx(0.762)
        assert compare(spec, trade, strung).feel.words.endswith("stiffer")

    def test_only_sets_of_pairs_are_offered(self, trade: Trade) -> None:
        offered = {one.key for one in sets_for(spec_of("acoustic_12"), trade)}
        assert offered == {"acoustic_12_10", "acoustic_12_12"}
        assert all("acoustic_6" in one.key for one in sets_for(spec_of("acoustic_6"), trade))

    def test_a_saddle_starts_by_the_thicker_string_alone(self, trade: Trade) -> None:
        pairs = spec_of("acoustic_12")
        alone = [s.model_copy(update={"partner": None}) for s in pairs.strings]
        single = pairs.model_copy(update={"strings": tuple(alone)})
        assert starting_places(Bench(pairs).case()) == starting_places(Bench(single).case())


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
