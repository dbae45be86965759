"""Buying: hand-worked purchases, and the optimum against trying everything."""

import random
from decimal import Decimal
from itertools import product

import numpy as np
import pytest

from paneglow.cost.offers import Offers, PriceBreaks
from paneglow.errors import DesignError

D = Decimal


def offer_of(*steps, item="led", supplier="shop", **rest):
    return PriceBreaks(
        item=item, supplier=supplier, form="strip", steps=tuple((at, D(str(each))) for at, each in steps), **rest
    )


def basket_of(needs, offers, postage=None):
    """Lines (offer, pieces) by item, and exact cost with postage, of one run."""
    found = Offers(breaks=offers, postage=postage or {}).best_basket({item: np.array([n]) for item, n in needs.items()})
    lines = {
        item: [(offer, int(line[0])) for offer, line in zip(found.offers[item], pieces, strict=True) if line[0]]
        for item, pieces in found.pieces.items()
    }
    cost = sum((line_cost(offer, count) for of_item in lines.values() for offer, count in of_item), D(0))
    return lines, cost + sum((asked[0] for asked in found.postage.values()), D(0)), found


def line_cost(offer, count):
    """Exact price of a line, from the steps alone."""
    return count * max((at, each) for at, each in offer.steps if at <= count)[1] + offer.fee


def bought(need, *offers):
    lines, _, _ = basket_of({"led": need}, offers)
    return [(count, line_cost(offer, count)) for offer, count in lines.get("led", [])]


def test_twelve_leds_at_0_30_cost_3_60():
    # Common practice, no source: a board with 12 reverse LEDs at 0.30; 12 x 0.30 = 3.60
    assert bought(12, offer_of((1, "0.30"))) == [(12, D("3.60"))]


def test_four_colours_at_the_1000_break_are_4000_leds():
    # Common practice, no source: each colour has its own minimum of 1000; 4 x 1000 x 0.30 = 1200.00
    needs = {colour: 300 for colour in ("amber", "red", "green", "blue")}
    offers = [offer_of((1000, "0.30"), item=colour) for colour in needs]
    lines, cost, _ = basket_of(needs, offers)
    assert sum(count for of_item in lines.values() for _, count in of_item) == 4000
    assert cost == D("1200.00")


def test_the_next_break_is_bought_where_it_is_cheaper():
    # 90 at 0.12 = 10.80; 100 at 0.10 = 10.00: ten more pieces cost 0.80 less
    assert bought(90, offer_of((1, "0.12"), (100, "0.10"))) == [(100, D("10.00"))]


def test_below_the_worth_of_the_next_break_the_small_price_stays():
    # 83 at 0.12 = 9.96 < 10.00; 84 at 0.12 = 10.08 > 10.00
    assert bought(83, offer_of((1, "0.12"), (100, "0.10"))) == [(83, D("9.96"))]
    assert bought(84, offer_of((1, "0.12"), (100, "0.10"))) == [(100, D("10.00"))]


def test_a_break_two_steps_up_can_win():
    # 45 x 0.20 = 9.00; 50 x 0.18 = 9.00; 100 x 0.05 = 5.00
    assert bought(45, offer_of((1, "0.20"), (50, "0.18"), (100, "0.05"))) == [(100, D("5.00"))]


def test_leader_loss_is_bought_too():
    # 96 needed and 4 lost on the leader: 100 x 0.10 = 10.00; 97 needed: 101 x 0.10 = 10.10
    strip = offer_of((1, "0.10"), leader=4)
    assert bought(96, strip) == [(100, D("10.00"))]
    assert bought(97, strip) == [(101, D("10.10"))]


def test_packs_are_bought_whole():
    # 205 pieces in packs of 100: 3 packs, 300 x 0.03 = 9.00
    assert bought(205, offer_of((1, "0.03"), pack=100)) == [(300, D("9.00"))]


def test_a_minimum_is_bought_for_one_piece():
    # 25 x 0.62 = 15.50
    assert bought(1, offer_of((1, "0.62"), minimum=25)) == [(25, D("15.50"))]


def test_a_reel_and_a_strip_beat_two_reels():
    # 4100 pieces: 2 reels 8000 x 0.02 = 160.00; strip alone 4100 x 0.08 = 328.00;
    # reel and strip 4000 x 0.02 + 100 x 0.08 = 80.00 + 8.00 = 88.00
    reel, strip = offer_of((4000, "0.02"), pack=4000), offer_of((1, "0.10"), (100, "0.08"))
    assert bought(4100, reel, strip) == [(4000, D("80.00")), (100, D("8.00"))]


def test_an_order_fee_counts_once_per_purchase():
    # Cut strip 200 x 0.10 = 20.00; re-reeled 200 x 0.06 + 7.00 = 19.00
    assert bought(200, offer_of((1, "0.10")), offer_of((1, "0.06"), fee=D(7))) == [(200, D("19.00"))]


def test_postage_can_outweigh_a_better_price():
    # 100 x 0.06 + 8.00 = 14.00 at the far shop, 100 x 0.10 + 2.00 = 12.00 at the near one
    offers = [offer_of((1, "0.06"), supplier="far"), offer_of((1, "0.10"), supplier="near")]
    postage = {"far": D(8), "near": D(2)}
    assert basket_of({"led": 100}, offers, postage)[1] == D("12.00")
    # 1000 pieces: 60 + 8 = 68.00 against 100 + 2 = 102.00
    assert basket_of({"led": 1000}, offers, postage)[1] == D("68.00")


def test_one_order_at_a_more_expensive_shop_saves_a_second_postage():
    # a: 10.00 at x or 9.00 at y; b only at x: x alone 10 + 5 + 4 = 19.00, both 9 + 5 + 4 + 4 = 22.00
    offers = [
        offer_of((1, "10"), item="a", supplier="x"),
        offer_of((1, "9"), item="a", supplier="y"),
        offer_of((1, "5"), item="b", supplier="x"),
    ]
    _, cost, basket = basket_of({"a": 1, "b": 1}, offers, {"x": D(4), "y": D(4)})
    assert cost == D("19.00")
    assert {name: asked[0] for name, asked in basket.postage.items() if asked[0]} == {"x": D(4)}


def test_what_nobody_offers_is_named():
    with pytest.raises(DesignError, match="no offer for blue"):
        basket_of({"led": 1, "blue": 2}, [offer_of((1, "1"))])


def test_more_than_ten_suppliers_with_postage_are_refused():
    offers = [offer_of((1, "1"), supplier=f"s{number}") for number in range(11)]
    with pytest.raises(DesignError, match="11 suppliers ask postage; allowed are 10"):
        basket_of({"led": 1}, offers, {offer.supplier: D(1) for offer in offers})


# Everything below tries every quantity of every line, one line or two, and every set of suppliers


def every_line(offer, most):
    """Usable pieces and cost of every quantity that can be bought."""
    for pieces in range(offer.pack, most + offer.pack, offer.pack):
        if pieces >= offer.minimum and pieces >= offer.steps[0][0] and pieces > offer.leader:
            price = max((at, each) for at, each in offer.steps if at <= pieces)[1]
            lost = offer.leader * (pieces // offer.pack if offer.leader_on_every_pack else 1)
            yield pieces - lost, pieces * price + offer.fee


def every_choice(need, offers, most):
    """Least cost of one item for every set of suppliers it may come from."""
    lines = [(offer, list(every_line(offer, most))) for offer in offers]
    least = {}
    for index, (offer, single) in enumerate(lines):
        for usable, cost in single:
            if usable >= need:
                key = frozenset([offer.supplier])
                least[key] = min(least.get(key, cost), cost)
        for other, second in lines[index + 1 :]:
            key = frozenset([offer.supplier, other.supplier])
            for (usable, cost), (usable_2, cost_2) in product(single, second):
                if usable + usable_2 >= need:
                    least[key] = min(least.get(key, cost + cost_2), cost + cost_2)
    return least


def least_by_trying_everything(needs, offers, postage, most):
    choices = [
        every_choice(need, [offer for offer in offers if offer.item == item], most).items()
        for item, need in needs.items()
    ]
    return min(
        sum(cost for _, cost in combination)
        + sum(postage[name] for name in frozenset().union(*(suppliers for suppliers, _ in combination)))
        for combination in product(*choices)
    )


def random_offer(chance, item, supplier):
    steps, at, each = [], chance.choice([1, 1, 1, 5, 10]), D(chance.randint(20, 99))
    for _ in range(chance.randint(1, 3)):
        steps.append((at, each / 100))
        at += chance.randint(1, 15)
        each -= chance.randint(0, int(each) // 2)
    pack, leader = chance.choice([1, 1, 2, 3, 5, 7, 10, 20]), chance.choice([0, 0, 1, 4])
    return PriceBreaks(
        item=item, supplier=supplier, form="strip", steps=tuple(steps), minimum=chance.choice([1, 1, 3, 12]),
        pack=pack, leader=leader, leader_on_every_pack=leader < pack and chance.random() < 0.4,
        fee=D(chance.choice([0, 0, 0, 50])) / 100,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(200))
def test_a_random_basket_costs_what_trying_everything_finds(seed):
    chance = random.Random(seed)
    suppliers = ["x", "y", "z"][: chance.randint(1, 3)]
    items = ["a", "b", "c"][: chance.randint(1, 3)]
    needs = {item: chance.randint(1, 40) for item in items}
    offers = [
        random_offer(chance, item, chance.choice(suppliers)) for item in items for _ in range(chance.randint(1, 3))
    ]
    postage = {name: D(chance.choice([0, 50, 150, 400])) / 100 for name in suppliers}
    lines, cost, basket = basket_of(needs, offers, postage)
    for item, of_item in lines.items():
        assert sum(int(offer.usable(np.array(count))) for offer, count in of_item) >= needs[item]
    # 180 pieces cover 40 needed, of packs of 5 with a leader of 4 each, and the highest step
    assert cost == least_by_trying_everything(needs, offers, postage, most=220)


def test_many_small_splits_cost_what_trying_everything_finds():
    chance = random.Random(7)
    for _ in range(400):
        offers = [random_offer(chance, "a", "x") for _ in range(2)]
        need = chance.randint(1, 60)
        least = min(every_choice(need, offers, 320).values())
        assert basket_of({"a": need}, offers)[1] == least


def test_a_line_buys_the_fewest_pieces_of_equal_cost():
    # 50 x 0.20 = 100 x 0.10 = 10.00: nothing is gained by fifty more to store
    assert bought(50, offer_of((1, "0.20"), (100, "0.10"))) == [(50, D("10.00"))]


def test_every_reel_loses_its_leader():
    # 290 of reels of 100 that lose 8 each: three leave 276, four 368; cut as one strip 298 -> 300 would do
    reel = {"pack": 100, "leader": 8}
    assert bought(290, offer_of((1, "0.10"), **reel, leader_on_every_pack=True)) == [(400, D("40.00"))]
    assert bought(290, offer_of((1, "0.10"), **reel)) == [(300, D("30.00"))]


def test_offers_at_one_price_are_not_tried_pack_by_pack_in_a_huge_run():
    # 2.4 million pieces in packs of 5 or 7: nothing beats the pieces needed at their price, so nothing more is tried;
    # of 2400001, 2399994 + 7 are
    offers = [offer_of((1, "0.1"), pack=5), offer_of((1, "0.1"), supplier="other", pack=7)]
    assert bought(2_400_000, *offers) == [(2_400_000, D("240000.0"))]
    assert sum(count for count, _ in bought(2_400_001, *offers)) == 2_400_001


def test_many_runs_at_once_are_bought_like_each_alone():
    chance = random.Random(11)
    offers = [random_offer(chance, item, supplier) for item in "abc" for supplier in "xyz"]
    postage = {name: D(chance.choice([0, 50, 150])) / 100 for name in "xyz"}
    needs = {item: np.array([chance.randint(0, 30) for _ in range(60)]) for item in "abc"}
    together = Offers(breaks=offers, postage=postage).best_basket(needs)
    for run in range(60):
        _, _, alone = basket_of({item: need[run] for item, need in needs.items()}, offers, postage)
        for item in alone.pieces:
            assert together.pieces[item][:, run].tolist() == alone.pieces[item][:, 0].tolist()
