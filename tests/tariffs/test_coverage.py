"""Every minute has one band, or the error says which has not."""
# ruff: noqa: DTZ001 - times on the wall have no zone, on purpose

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from energyplan.base.errors import TariffError
from energyplan.tariffs.coverage import coverage_problems, wall_prices

BANDS = '[[tariff.band]]\nname = "{}"\nprice = {}\n{}\n'


def bands(*rules: tuple[str, float, str]) -> str:
    """Band tables."""
    return "".join(BANDS.format(*rule) for rule in rules)


def at(tariff, moment: datetime) -> str:
    """Band at a moment on the wall."""
    day = moment.date()
    prices = wall_prices(tariff, day, day)
    wall = int((moment - datetime(1970, 1, 1)).total_seconds())
    index = int(prices.edges_wall_s.searchsorted(wall, side="right")) - 1
    return tariff.table.band[int(prices.band[index])].name


def test_a_gap_that_an_add_on_crosses_is_one_gap(tariff_of) -> None:
    """Nobody's from ten to two; what is added from noon and from one on neither splits nor moves that."""
    body = bands(("morning", 1, 'from = "00:00"\nto = "10:00"'), ("later", 2, 'from = "14:00"\nto = "24:00"'))
    for begins in ("12:00", "13:00"):
        body += BANDS.replace("band", "add_on").format(begins, 3, f'from = "{begins}"\nto = "16:00"')
    with pytest.raises(TariffError) as caught:
        tariff_of("valid_from = 2026-01-05\nvalid_to = 2026-01-05\n" + body)
    (problem,) = caught.value.problems
    assert "10:00 to 14:00, 240 min" in str(problem)


def test_a_gap_names_date_weekday_and_minutes(tariff_of) -> None:
    """Saturday and Sunday evenings are nobody's."""
    body = bands(("week", 1, 'days = "mon-fri"'), ("weekend", 2, 'days = ["sat", "sun"]\nfrom = "00:00"\nto = "17:30"'))
    with pytest.raises(TariffError) as caught:
        tariff_of("valid_from = 2026-01-05\nvalid_to = 2026-01-18\n" + body)
    (problem,) = caught.value.problems
    assert str(problem) == (
        "[[tariff.band]]: 2026-01-10 (Saturday) 17:30 to 24:00, 390 min (and on 3 more days): no band covers it; "
        "widen a band, or give one otherwise = true"
    )


def test_an_overlap_of_one_minute_names_both_bands(tariff_of) -> None:
    """07:59 to 08:00 belongs to two."""
    body = bands(("night", 1, 'from = "23:00"\nto = "08:00"'), ("day", 2, 'from = "07:59"\nto = "23:00"'))
    with pytest.raises(TariffError, match=r'07:59 to 08:00, 1 min .*: "night" and "day" both claim it'):
        tariff_of(body)


def test_a_season_without_a_band_is_found_at_reading(tariff_of) -> None:
    """Summer is forgotten; the first day of it is named."""
    with pytest.raises(TariffError, match=r"2028-04-01 \(Saturday\) 00:00 to 24:00, 1440 min \(and on 182 more days\)"):
        tariff_of(bands(("winter", 1, 'months = "oct-mar"')))


def test_the_29th_of_february_is_found_too(tariff_of) -> None:
    """A tariff without dates is looked at over a leap year."""
    body = bands(("rest", 1, 'dates = "03-01 to 02-28"'))
    with pytest.raises(TariffError, match=r"2028-02-29 \(Tuesday\)"):
        tariff_of(body)


def test_many_gaps_are_cut_short(tariff_of) -> None:
    """A dozen lines are enough."""
    months = ["jan", "feb", "mar", "apr", "may", "jun", "jul"]
    rules = [
        (month, 1, f'months = "{month}"\nfrom = "0{number}:00"\nto = "1{number}:00"')
        for number, month in enumerate(months)
    ]
    with pytest.raises(TariffError, match="and 2 more stretches like these"):
        tariff_of(bands(*rules))


@pytest.mark.parametrize(
    ("rule", "at_two", "at_midnight"),
    [("calendar day", "other", "other"), ("start day", "week night", "week night")],
)
def test_saturday_at_two_under_both_rules(tariff_of, rule: str, at_two: str, at_midnight: str) -> None:
    """mon-fri 23:00 to 07:00: whose is Saturday 02:00? And Monday 02:00?"""
    body = bands(
        ("week night", 1, f'days = "mon-fri"\nfrom = "23:00"\nto = "07:00"\nnight_belongs_to = "{rule}"'),
        ("other", 2, "otherwise = true"),
    )
    tariff = tariff_of(body)
    assert at(tariff, datetime(2026, 1, 10, 2, 0)) == at_two  # a Saturday
    assert at(tariff, datetime(2026, 1, 10, 0, 0)) == at_midnight
    assert at(tariff, datetime(2026, 1, 10, 7, 0)) == "other"
    assert at(tariff, datetime(2026, 1, 9, 23, 0)) == "week night"
    monday_at_two = "week night" if rule == "calendar day" else "other"
    assert at(tariff, datetime(2026, 1, 12, 2, 0)) == monday_at_two


def test_a_season_over_new_year_and_its_night(tariff_of) -> None:
    """15 October to 14 April; a night that belongs to its start day runs into 15 April."""
    body = bands(
        ("winter night", 1, 'dates = "10-15 to 04-14"\nfrom = "23:00"\nto = "07:00"\nnight_belongs_to = "start day"'),
        ("rest", 2, "otherwise = true"),
    )
    tariff = tariff_of(body)
    assert at(tariff, datetime(2026, 4, 15, 6, 59)) == "winter night"
    assert at(tariff, datetime(2026, 4, 15, 23, 30)) == "rest"
    assert at(tariff, datetime(2026, 10, 15, 6, 0)) == "rest"
    assert at(tariff, datetime(2026, 12, 31, 23, 59)) == "winter night"
    assert at(tariff, datetime(2027, 1, 1, 0, 0)) == "winter night"


def test_the_29th_of_february(tariff_of) -> None:
    """A season that ends on it covers it in a leap year and ends on the 28th in another."""
    body = bands(("winter", 1, 'dates = "11-01 to 02-29"'), ("rest", 2, "otherwise = true"))
    tariff = tariff_of(body)
    assert at(tariff, datetime(2028, 2, 29, 12)) == "winter"
    assert at(tariff, datetime(2028, 3, 1, 12)) == "rest"
    assert at(tariff, datetime(2026, 2, 28, 12)) == "winter"
    assert at(tariff, datetime(2026, 3, 1, 12)) == "rest"


def test_windows_at_the_edge_of_the_day(tariff_of) -> None:
    """00:00 to 24:00 is the whole day, 22:00 to 00:00 its end, 23:59 to 00:01 two minutes, 00:00 to 00:00 an error."""
    assert not coverage_problems(tariff_of(bands(("all", 1, 'from = "00:00"\nto = "24:00"'))))
    late = tariff_of(bands(("late", 1, 'from = "22:00"\nto = "00:00"'), ("rest", 2, "otherwise = true")))
    assert at(late, datetime(2026, 1, 1, 23, 59)) == "late"
    assert at(late, datetime(2026, 1, 1, 0, 0)) == "rest"
    short = tariff_of(bands(("turn", 1, 'from = "23:59"\nto = "00:01"'), ("rest", 2, "otherwise = true")))
    shown = [at(short, datetime(2026, 1, 1) + timedelta(minutes=minute)) for minute in (0, 1, 1438, 1439)]
    assert shown == ["turn", "rest", "rest", "turn"]
    with pytest.raises(TariffError, match="a window of no minutes"):
        tariff_of(bands(("none", 1, 'from = "00:00"\nto = "00:00"'), ("rest", 2, "otherwise = true")))


def test_two_bands_for_what_is_left(tariff_of) -> None:
    """At most one otherwise."""
    with pytest.raises(TariffError, match='stands in "a" and "b"; keep it in one band'):
        tariff_of(bands(("a", 1, "otherwise = true"), ("b", 2, "otherwise = true")))


def test_holidays_as_sunday_and_as_their_own_kind(tariff_of) -> None:
    """Saint Patrick's Day 2026, a Tuesday: a Sunday under one tariff, a kind of day of its own under another."""
    sunday = '[tariff.holidays]\ncountry = "IE"\ntreat_as = "sun"\n' + bands(
        ("week", 1, 'days = "mon-sat"'), ("sunday", 2, 'days = "sun"')
    )
    assert at(tariff_of(sunday), datetime(2026, 3, 17, 12)) == "sunday"
    assert at(tariff_of(sunday), datetime(2026, 3, 16, 12)) == "week"
    for treated in ("mon", "tue", "wed", "thu", "fri", "sat", "sun"):
        each = bands(*((day, 1, f'days = "{day}"') for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")))
        table = f'[tariff.holidays]\ncountry = "IE"\ntreat_as = "{treated}"\n'
        assert at(tariff_of(table + each), datetime(2026, 3, 17, 12)) == treated
    own = '[tariff.holidays]\ncountry = "IE"\n' + bands(
        ("feast", 1, 'days = ["holiday", "sun"]'), ("rest", 2, "otherwise = true")
    )
    assert at(tariff_of(own), datetime(2026, 3, 17, 12)) == "feast"
    assert at(tariff_of(own), datetime(2026, 3, 16, 12)) == "rest"


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 1439),
            st.integers(1, 1440),
            st.sampled_from(["every day", "mon-fri", "sat-sun", "wed"]),
            st.sampled_from(["calendar day", "start day"]),
            st.sampled_from(["", 'months = "oct-mar"', 'dates = "02-20 to 03-05"']),
        ).filter(lambda rule: rule[0] != rule[1]),
        min_size=1,
        max_size=5,
    ),
    st.datetimes(datetime(2027, 12, 1), datetime(2028, 3, 20)),
)
def test_layout_equals_a_minute_by_minute_reading(tariff_of, rules, moment: datetime) -> None:
    """Add-ons stack as a reader of the file would add them, minute by minute, written anew here."""
    names = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
    wanted = {"every day": names, "mon-fri": names[:5], "sat-sun": names[5:], "wed": ["wed"]}
    body = bands(("all", 0, ""))
    for number, (start, end, days, owner, season) in enumerate(rules):
        clock = [f"{minute // 60:02d}:{minute % 60:02d}" for minute in (start, end)]
        body += (
            f'[[tariff.add_on]]\nname = "a{number}"\nprice = {10**number}\ndays = "{days}"\nfrom = "{clock[0]}"\n'
            f'to = "{clock[1]}"\nnight_belongs_to = "{owner}"\n{season}\n'
        )
    expected = 0
    minute = moment.hour * 60 + moment.minute
    for number, (start, end, days, owner, season) in enumerate(rules):
        inside = start <= minute < end if start < end else minute >= start or minute < end
        owner_day = moment
        if start > end and minute < end and owner == "start day":
            owner_day = moment - timedelta(days=1)
        month_day = (owner_day.month, owner_day.day)
        in_season = (
            (not season)
            or ("months" in season and owner_day.month in (10, 11, 12, 1, 2, 3))
            or ("dates" in season and (2, 20) <= month_day <= (3, 5))
        )
        if inside and in_season and names[owner_day.weekday()] in wanted[days]:
            expected += 10**number
    prices = wall_prices(tariff_of(body), moment.date(), moment.date())
    wall = int((moment.replace(second=0, microsecond=0) - datetime(1970, 1, 1)).total_seconds())
    index = int(prices.edges_wall_s.searchsorted(wall, side="right")) - 1
    assert int(prices.nano_per_kwh[index]) == expected * 1_000_000_000


def test_a_series_has_no_bands_to_check(tariff_of) -> None:
    """Holes of a series are found when it is priced."""
    tariff = tariff_of(
        '[tariff.prices]\nfile = "p.csv"\nstep_minutes = 60\n',
        series_texts={"p.csv": "start,price\n2026-01-01T00:00,1\n"},
    )
    assert coverage_problems(tariff, date(2026, 1, 1), date(2026, 1, 2)) == ()


@pytest.mark.parametrize(("valid", "near", "found"), [
    ("", None, "2028-02-29"),  # a leap year, in which every rule has its turn
    ("", date(2026, 3, 1), "2028-02-29"),  # the year from a day on, and then that leap year
    ("valid_from = 2027-02-28\n", None, "2028-02-29"),  # a year and a day from its first
    ("valid_from = 2027-02-27\n", None, None),
    ("valid_from = 2027-02-28\nvalid_to = 2028-02-29\n", None, "2028-02-29"),
    ("valid_from = 2027-02-28\nvalid_to = 2028-02-28\n", None, None),
    ("valid_to = 2029-03-01\n", None, "2028-02-29"),  # and as much before its last
    ("valid_to = 2029-03-02\n", None, None),
])  # fmt: skip
def test_the_year_in_which_gaps_are_looked_for(tariff_of, valid: str, near: date | None, found: str | None) -> None:
    """A gap on the 29th of February alone: whether it is seen."""
    tariff = tariff_of(valid + bands(("rest", 1, 'dates = "03-01 to 02-28"')), check_coverage=False)
    problems = coverage_problems(tariff, near=near)
    assert [str(problem.message)[:10] for problem in problems] == ([found] if found else [])


def test_a_gap_is_named_by_its_first_date_from_the_day_that_is_asked_about(tariff_of) -> None:
    """One at each new year: the next one."""
    tariff = tariff_of(bands(("rest", 1, 'dates = "01-02 to 12-31"')), check_coverage=False)
    (problem,) = coverage_problems(tariff, near=date(2026, 5, 1))
    assert str(problem.message).startswith("2027-01-01 (Friday) 00:00 to 24:00, 1440 min: no band covers it")


@pytest.mark.parametrize(("count", "more"), [(12, 0), (13, 1)])
def test_a_dozen_gaps_are_told_one_by_one(tariff_of, count: int, more: int) -> None:
    """A thirteenth is counted."""
    days = "\n".join(
        f'[[tariff.band]]\nname = "b{n}"\nprice = 1\ndates = "01-{n + 1:02d}"\nto = "00:{n + 1:02d}"\nfrom = "00:00"\n'
        for n in range(count)
    )
    tariff = tariff_of(days, check_coverage=False)
    problems = coverage_problems(tariff, date(2026, 1, 1), date(2026, 1, count))
    assert len(problems) == 12 + more
    assert ("and 1 more stretches like these" in str(problems[-1])) is bool(more)


def test_minutes_that_two_bands_claim_are_told_with_both_names(tariff_of) -> None:
    """From six to seven on weekdays: the first Monday, and how many more days."""
    body = bands(
        ("early", 1, 'to = "07:00"\nfrom = "00:00"\ndays = "mon-fri"'),
        ("late", 2, 'from = "06:00"\nto = "24:00"'),
        ("end", 3, 'days = "sat-sun"\nfrom = "00:00"\nto = "06:00"'),
    )
    tariff = tariff_of(body, check_coverage=False)
    (problem,) = coverage_problems(tariff, date(2026, 1, 3), date(2026, 1, 11))
    assert str(problem.message) == (
        '2026-01-05 (Monday) 06:00 to 07:00, 60 min (and on 4 more days): "early" and "late" both claim it; '
        "move a border so that they meet"
    )
    assert coverage_problems(tariff, date(2026, 1, 10), date(2026, 1, 11)) == ()


def test_one_end_of_a_range_alone_is_no_range(tariff_of) -> None:
    """Then the year in which every rule has its turn is looked at, as without either."""
    tariff = tariff_of(bands(("rest", 1, 'dates = "03-01 to 02-28"')), check_coverage=False)
    whole = coverage_problems(tariff)
    assert len(whole) == 1
    assert coverage_problems(tariff, date(2026, 1, 1)) == coverage_problems(tariff, last=date(2026, 1, 1)) == whole
    assert coverage_problems(tariff, date(2026, 1, 1), date(2026, 1, 1)) == ()
