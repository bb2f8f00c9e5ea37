"""Writes the first site.toml of a farm: small, commented, and right as it stands."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Final

from rounds.site.files import FILE

_LETTERS: Final = "abcdefghijkmnpqrstuvwxyz23456789"
_TEMPLATE: Final = """\
# Your farm. Change what stands here, add what is missing, then run: rounds check
# A quantity is a number, or text with a unit: "5.7 m^3", "1500 gal", "78 degF", "6 ft".

[site]
name = "My farm"
id = "{id}"                # made once; never change it, the records carry it
timezone = "UTC"                 # such as "Europe/Lisbon"
latitude = 0.0                   # degrees north; rounds may follow the sunrise
longitude = 0.0                  # degrees east
elevation = "0 m"                # above the sea; for oxygen, where no barometer is read
ph_buffers = "nbs"               # what the pH meter is set with: "nbs" (4, 7, 10) or "total"
display_units = "metric"         # or "us"
notice = "Not filled in yet: measure the volumes, name the people, then delete this line"
emergency = [
    "Emergency number: fill in",
    "Site supervisor: fill in",
    "Fish veterinarian: fill in",
]

# Who writes entries; --by takes the code.
[[person]]
code = "me"
name = "Fill in"
role = "technician"

# Where laptops meet, looked at by the app itself; a stick can also be named there, with Y. No
# password: the ssh agent, netrc or the environment give it.
# [[sync]]
# name = "house"
# address = "sftp://ana@house.lan/srv/rounds"     # or a folder, s3://bucket/farm, webdavs://host/x
# every = "15 min"

# Places that share one body of water. Doses are for loops.
[[loop]]
code = "A"
sump_volume = "1 m^3"
alkalinity_target = 120          # mg/L as CaCO3
salinity_target = 30
alkali = "BICARB"
salt = "SALT"

# Places in walking order, clean to dirty: live food, larvae, nursery, grow-out, quarantine, pond.
# Take the "# " away where you have such a place; its loop is a [[loop]] above.
[[place]]
code = "HOUSE"
kind = "house"                   # house, store, culture, tank, filter, tray, pond

# [[place]]
# code = "R1"
# name = "Rotifer culture"
# kind = "culture"
# holds = "rotifers"             # or "nauplii", "algae": a culture is asked only what fits it
# volume = "100 L"               # what may be harvested rests on it

# [[place]]
# code = "B1"
# name = "Brine shrimp hatcher"
# kind = "culture"
# holds = "nauplii"
# volume = "60 L"

# [[place]]
# code = "L1"
# name = "Larval tank 1"
# kind = "tank"
# loop = "A"
# stage = "larval"
# species = "generic-warm-marine"
# volume = "500 L"
# flow = "100 L/h"
# feed = "ROTIFERS"

[[place]]
code = "T1"
name = "Tank 1"
kind = "tank"
loop = "A"
stage = "grow-out"               # larval, nursery, grow-out, quarantine, holding
species = "generic-warm-marine"  # or "red-drum", or a file of your own in species/
volume = "5 m^3"                 # measure it: every dose and every minute of air rests on it
flow = "5 m^3/h"
feed = "PELLET"
test_point = true                # the loop's water is tested here
# density = 30                   # most fish wanted here, kg/m3, in place of the species'
# aeration = 2.5                 # what its stones transfer (KLa, 1/h), where you measured it

# Fish that came in, or are sick, stand on water of their own: no other tank shares loop Q.
# [[loop]]
# code = "Q"
# sump_volume = 0
# alkalinity_target = 120
# salinity_target = 30
# [[place]]
# code = "Q1"
# name = "Quarantine"
# kind = "tank"
# loop = "Q"
# stage = "quarantine"
# species = "generic-warm-marine"
# volume = "2 m^3"
# feed = "PELLET"

[[place]]
code = "F1"
name = "Filter"
kind = "filter"
loop = "A"
volume = "0.5 m^3"
# area = "8 m^2"
# tan_removal = 0.4              # g N/m2/day, measured: fall of TAN x flow / area

# A pond of forage fish, and how much of it may be taken: rounds forage.
# [[place]]
# code = "P1"
# kind = "pond"
# volume = "45 m^3"
# area = "60 m^2"
# [place.forage]
# growth_rate = 1.2              # of the stock, 1/yr; with what the pond carries uncropped
# carries = "6 kg"
# source = "measured here, two seasons"
# breeding = "20 degC"           # colder, nothing is taken
# hold = "21 d"                  # a crop waits 14 to 28 days before it is fed
# permit = "number, species"
# permit_until = 2027-03-31

# What is weighed out. Read purity and protein off the bag.
[[product]]
code = "PELLET"
name = "Grower pellet"
kind = "feed"
protein = "45 %"

# [[product]]
# code = "ROTIFERS"
# name = "Rotifers from R1"
# kind = "live feed"

# Forage from a pond: dry 50 g of it at 105 degC overnight. A tank that eats it has feed = "FORAGE".
# [[product]]
# code = "FORAGE"
# name = "Fish from P1, chopped"
# kind = "forage"
# dry_matter = "23 %"
# caution = "Fish fed on raw forage lose the raw-eating exemption for good."

[[product]]
code = "BICARB"
name = "Sodium bicarbonate"
kind = "alkali"
formula = "NaHCO3"
purity = "99 %"
caution = "Goggles when pouring: the dust stings. Dissolve in fresh water first."

[[product]]
code = "SALT"
name = "Sea salt mix"
kind = "salt"
dissolved_fraction = "95 %"

# Where make-up water holds chlorine: what the card Chlorine and rounds dose chlorine reckon with.
# [[product]]
# code = "THIO"
# name = "Sodium thiosulfate, crystals"
# kind = "dechlorinator"
# formula = "Na2S2O3.5H2O"
# purity = "99 %"
# caution = "Never near acid: it gives off a choking gas."

# Valves, switches and spares that stand on the emergency cards: power-cut, low-oxygen,
# pump-stopped, chlorine, sulphide, heat, leak, person-hurt.
# [[valve]]
# code = "O2-1"
# where = "north wall, by the door"
# does = "reserve oxygen to T1"
# cards = ["power-cut", "low-oxygen"]

# Limits of your own, for the site, for kinds of place, or under a place as [[place.limits]].
# [[limits]]
# kinds = ["tray"]
# measure = "ph"
# hours = "09:00-19:00"
# target_high = 8.8

# A value of a species that is different here.
# [[species]]
# code = "generic-warm-marine"
# fcr = 1.4
"""


def start(folder: Path) -> Path:
    """Write a first site.toml, which passes `load` as it stands.

    Args:
        folder: The new site's folder; made where it is missing.

    Returns:
        The file written.

    Raises:
        FileExistsError: There is a site.toml already; nothing is written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / FILE
    with path.open("x", encoding="utf-8") as file:
        file.write(_TEMPLATE.replace("{id}", "".join(secrets.choice(_LETTERS) for _ in range(8))))
    return path
