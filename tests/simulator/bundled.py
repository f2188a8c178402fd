"""The scans in testdata/: a season on the allotment, a few MB in all."""
from recipes import OLD, ROUGH, TARNISH, one, several

SMALL = dict(dpi=180, room=2.2, dust=5, hairs=1)
CLOSE = (4.8, 5.2, 4.4, 5.6)


def bundled():
    """Recipes of the bundled scans, by name (the file's name without its end)."""
    r = {
        "glasshouse": one(101, "front-lit, a quarter of an hour; white lid",
                          dict(scene="glasshouse", margins=CLOSE, minutes=18.0, turn=0, tilt=1.3),
                          **{**SMALL, "dpi": 200}),
        "bean-poles": one(102, "an ordinary 8-bit JPEG, brushed to a ragged rim",
                          dict(scene="bean poles", margins=(8, 9, 8, 9), turn=0, tilt=-0.9, rim=2.5),
                          file=dict(kind="jpg", bits=8, quality=90), dpi=300, room=4.0),
        "water-butt": one(103, "16-bit PNG, 35 mm frame, scanned lying on its side, black lid",
                          dict(scene="water butt", size=(24, 36), margins=CLOSE, turn=90, minutes=22.0, rim=1.2),
                          dict(kind="CCFL"), dict(kind="png"), lid="black", dpi=200, room=2.2),
        "scarecrow": one(104, "the bad sheet: three days old, fogged, badly brushed, short light",
                         dict(scene="scarecrow", margins=CLOSE, turn=0, tilt=2.1, minutes=9.0,
                              **{**TARNISH, "coat_rough": 0.2, "fog_edges": 0.22}), **SMALL),
        "seed-trays": several(105, "two sheets on one bed",
                              [dict(scene="seed trays", size=(36, 24), margins=CLOSE, turn=0, tilt=0.8),
                               dict(scene="glasshouse", size=(36, 24), margins=CLOSE, turn=0, tilt=-1.1,
                                    minutes=30.0)], columns=1, gap=4.0, **SMALL),
        "evening": one(106, "against the light for an hour, the sun's track in the picture",
                       dict(scene="silhouette", size=(36, 24), margins=CLOSE, turn=0, minutes=20.0, sun=380.0,
                            veil=0.002), **{**SMALL, "dpi": 220}),
        "before-rain": one(107, "three minutes only, in a wider colour space",
                             dict(scene="bean poles", size=(56, 41.5), turn=180, minutes=3.0, margins=CLOSE),
                             file=dict(kind="jpg", bits=8, space="Adobe", quality=96), dpi=240, room=4.0),
        "long-kept": one(108, "a week old and roughly brushed",
                         dict(scene="water butt", size=(56, 56), turn=0, minutes=40.0, **{**OLD, **ROUGH}),
                         file=dict(kind="jpg", bits=8, quality=96), dpi=240, room=4.0),
    }
    for name, spec in r.items():
        spec.name = name
    return r
