"""Tables and lines that records are drawn from; some contradict each other."""

RULES = (
    'use = "gb50310-2002-4.9.5"',
    'use = "a17.1-8.6.4.1.3"',
    'use = "mine-friction-hoists"\ngoal = "2 %"',
    'limit = "8 %"\ngoal = "3 %"',
    'limit = "15 %"\nmetric = "above-lowest"\nsource = "house rule"',
    'limit = "5 %"\nmetric = "off-mean"',
    'limit = "10 %"\nmetric = "range-of-mean"\ngoal = "4 %"',
    "",
)
VISIT = (
    'measured_by = "R. Example"',
    'place = "car top"',
    "cautions_shown = 2019-01-02",
    'linear_density_from = "table"',
    'lengths_read = "tape"',
)
CONSTRUCTIONS = ("8x19 FC", "8x19 FC", "6x19 steel", "8x25 FC", "9x19", "coated")
THREADS = ("M16", "M16", "M16", "M16 left", "M16x1.5", "5/8-11")
SPRINGS = (
    'spring_rate = "150 N/mm"\nspring_free_length = "160 mm"\n'
    'spring_solid_length = "96 mm"\n',
    'spring_rate = "857 lbf/in"\nspring_free_length = "6.30 in"\n',
    'spring_wire = "14 mm"\nspring_coil = "70 mm"\nspring_active_coils = 7.4\n'
    'spring_free_length = "160 mm"\nspring_solid_length = "120 mm"\n',
    'spring_loads = ["2 kN", "6 kN"]\nspring_lengths = ["146.7 mm", "120.0 mm"]\n'
    'spring_free_length = "160 mm"\n',
    'spring_rate = "150 N/mm"\nspring_free_length = "160 mm"\n'
    'spring_preload = "400 N"\n',
    'buffer = "rubber"\n',
    "",
)

_LOOKED = ("corrosion", "crown-wear", "kink", "birdcage", "strand-out", "flattened")
_ALLOWED = (
    ("japan-structure-40", "spread", "breaks = 1{n}"),
    ("tsg-t7001-5.1", "spread", "breaks = 30"),
    ("a17-style", "spread", "breaks = 1{n}\nin_strand = {n}"),
    ("jis-a-4302", "one-or-two-strands", "breaks = {n}"),
    ("cfr30-56.19024", "spread", 'fraction_of_wires = "{n} %"'),
    ("tsg-t7001-5.1", "diameter", 'least_fraction = "90 %"'),
    ("a17-style", "diameter", 'least = "12.{n} mm"'),
    ("cal-t8-5031", "diameter", 'most_loss = "0.{n} mm"'),
)

TABLES = (
    '[[finding]]\nrope = {r}\nkind = "broken-wires"\nbroken = {n}\n'
    'distribution = "spread"\nlay = "78 mm"\n',
    '[[finding]]\nrope = {r}\nkind = "broken-wires"\nbroken = 1{n}\n'
    'distribution = "spread"\nlay = "9{n} mm"\nin_one_strand = {n}\n',
    '[[finding]]\nrope = {r}\nkind = "broken-wires"\nbroken = {n}\n'
    'distribution = "one-or-two-strands"\nin_one_strand = 3\n',
    '[[finding]]\nrope = {r}\nkind = "broken-wires"\nbroken = 9\n'
    'distribution = "side-by-side"\nadjacent = {n}\nlay = "78 mm"\n',
    '[[finding]]\nrope = {r}\nkind = "broken-wires"\nbroken = 1\n'
    'distribution = "valley"\n',
    '[[finding]]\nrope = {r}\nkind = "diameter"\n'
    'diameters = ["12.{n} mm", "12.5 mm"]\n',
    '[[finding]]\nrope = {r}\nkind = "diameter"\n'
    'diameters = ["11.6{n} mm", "11.7 mm"]\nphoto = "photos/wear.jpg"\n',
    '[[finding]]\nrope = {r}\nkind = "diameter"\ngauge = ["first-step", "stays-out"]\n'
    'gauge_size = "13 mm"\n',
    '[[finding]]\nrope = {r}\nkind = "lay-length"\nlay = "8{r}.{n} mm"\n'
    'baseline = "78 mm"\n',
    '[[finding]]\nrope = {r}\nkind = "lay-length"\nlay = "43{n} mm"\nlays = 5\n'
    'baseline = "84 mm"\n',
    '[[finding]]\nkind = "rouge"\nseen = "yes"\ncounts = true\n',
    '[[finding]]\nrope = {r}\nkind = "rouge"\nseen = "could-not-see"\n',
    '[[finding]]\nkind = "unequal-tension"\nseen = "yes"\ncounts = true\n',
    '[[finding]]\nrope = {r}\nkind = "groove"\ngroove = {r}\nseating = "0.{n} mm"\n',
    '[[finding]]\nrope = {r}\nkind = "crossed"\nother_rope = {o}\n',
    *(
        f'[[finding]]\nrope = {{r}}\nkind = "{kind}"\nseen = "yes"\nat = "{{n}} m up"\n'
        for kind in _LOOKED
    ),
    '[[check]]\nitem = "right-rope"\nanswer = "yes"\ntag_text = "13 8x19 FC"\n'
    'tag_diameter = "13 mm"\nplate_diameter = "1{r} mm"\n',
    '[[check]]\nitem = "right-rope"\ntag_strength = "7{n} kN"\n'
    'plate_strength = "74 kN"\nplate_ropes = 4\n',
    '[[check]]\nitem = "new-diameter"\nrope = {r}\n'
    'diameters = ["13.{n} mm", "13.2 mm", "13.2 mm", "13.1 mm"]\n',
    '[[check]]\nitem = "new-diameter"\nrope = {r}\ncore = "steel"\n'
    'diameters = ["13.0{n} mm", "13.5 mm"]\n',
    '[[check]]\nitem = "new-lay"\nrope = {r}\nlength = "42{n} mm"\nlays = 5\n',
    '[[check]]\nitem = "not-crossed"\nhitch_order = [1, 2, 3, 4]\n'
    "grooves = [1, 2, 4, 3]\n",
    '[[check]]\nitem = "not-crossed"\nhitch_order = [4, 3, 2, 1]\n'
    "grooves = [4, 3, 2, 1]\n",
    '[[check]]\nitem = "groove-seating"\nrope = {r}\nlength = "0.{n} mm"\n',
    '[[check]]\nitem = "tail"\nrope = {r}\nlength = "{n}0 mm"\n',
    '[[check]]\nitem = "thread-left"\nrope = {r}\nlength = "{n} mm"\n',
    '[[check]]\nitem = "springs"\nrope = {r}\nlength = "11{n} mm"\n',
    '[[check]]\nitem = "nuts-and-pins"\ncount = {n}\n',
    '[[check]]\nitem = "runby"\nnow = "{n}0 mm"\nleast = "50 mm"\nmost = "90 mm"\n',
    '[[check]]\nitem = "runby"\nnow = "-{n}0 mm"\nwanted = "200 mm"\n'
    'least = "150 mm"\n',
    '[[check]]\nitem = "runby-later"\nnow = "2{n}0 mm"\nstretch = "0.5 %"\n'
    'least = "150 mm"\n',
    '[[check]]\nitem = "tension"\nanswer = "yes"\n',
    '[[check]]\nitem = "whole-set"\nanswer = "yes"\n',
    '[[check]]\nitem = "clips"\nrope = {r}\n'
    'distances = ["80 mm", "160 mm", "2{n}0 mm"]\n',
    '[[check]]\nitem = "clips"\nrope = {r}\nrule = "exam-4d-8d"\n'
    'distances = ["52 mm", "1{n}6 mm"]\n',
    '[[check]]\nitem = "cleanliness"\nanswer = "no"\nnote = "oil on rope {r}"\n',
    '[[instrument]]\nwhat = "spring scale"\nname = "hand, 500 N"\nserial = "{n}"\n',
    '[[answer]]\nnote = "403"\nanswer = "yes"\nby = "R. Example"\nropes = [{r}]\n',
    '[[exclusion]]\nseries = "{s}"\nrope = {r}\nreason = "it was held"\n',
    '[[turn]]\nafter = "as found"\nrope = {r}\nturns = "+{r} 1/2"\nhitch = "{h}"\n',
    '[[turn]]\nafter = "as found"\nrope = {r}\nturns = "OUT 1/4"\nhitch = "{h}"\n',
    '[[run]]\nafter = "as found"\nround_trips = 1{n}\n',
)
"""Tables with a place for a rope, another one, a figure, a hitch and a series."""

ALLOWANCES = tuple(
    f'[allowance]\ntable = "{table}"\nedition = "2020"\npage = "40"\n'
    f'confirmed_by = "I. Example"\ndate = 2020-11-20\n'
    f'[[allowance.figure]]\nwhat = "{what}"\n{figure}\n'
    for table, what, figure in _ALLOWED
)
"""Which table is open, with one figure of it."""

WRONG = ("[[reading]]\nrope = 9\n", "[sett]\n", "x = 1,5\n", '[[rope]]\nnumber = "1"\n')
"""One mistake each."""
