-- The notebook as it began. Keys are UUIDs as text (photos: their SHA-256), times milliseconds
-- since 1970 UTC, with the zone beside them where the clock on the wall matters. References are
-- looked at when a transaction ends, so that rows may come and go in any order.

CREATE TABLE notebook (
    one      INTEGER NOT NULL PRIMARY KEY CHECK (one = 1),
    revision INTEGER NOT NULL
) STRICT;
INSERT INTO notebook (one, revision) VALUES (1, 0);

CREATE TABLE recipe (
    id       TEXT NOT NULL PRIMARY KEY,
    demo     INTEGER NOT NULL,
    current  TEXT NOT NULL REFERENCES recipe_version (id) DEFERRABLE INITIALLY DEFERRED,
    put_away INTEGER NOT NULL
) STRICT;

CREATE TABLE recipe_version (
    id     TEXT NOT NULL PRIMARY KEY,
    demo   INTEGER NOT NULL,
    recipe TEXT NOT NULL REFERENCES recipe (id) DEFERRABLE INITIALLY DEFERRED,
    parent TEXT REFERENCES recipe_version (id) DEFERRABLE INITIALLY DEFERRED,
    at     INTEGER NOT NULL,
    title  TEXT NOT NULL,
    note   TEXT NOT NULL,
    text   TEXT NOT NULL
) STRICT;

CREATE TABLE kitchen (
    id       TEXT NOT NULL PRIMARY KEY,
    demo     INTEGER NOT NULL,
    current  TEXT NOT NULL REFERENCES kitchen_version (id) DEFERRABLE INITIALLY DEFERRED,
    put_away INTEGER NOT NULL
) STRICT;

CREATE TABLE kitchen_version (
    id      TEXT NOT NULL PRIMARY KEY,
    demo    INTEGER NOT NULL,
    kitchen TEXT NOT NULL REFERENCES kitchen (id) DEFERRABLE INITIALLY DEFERRED,
    parent  TEXT REFERENCES kitchen_version (id) DEFERRABLE INITIALLY DEFERRED,
    at      INTEGER NOT NULL,
    title   TEXT NOT NULL,
    note    TEXT NOT NULL,
    text    TEXT NOT NULL
) STRICT;

CREATE TABLE culture (
    id        TEXT NOT NULL PRIMARY KEY,
    demo      INTEGER NOT NULL,
    name      TEXT NOT NULL,
    flour     TEXT NOT NULL,
    hydration REAL NOT NULL,
    note      TEXT NOT NULL,
    put_away  INTEGER NOT NULL
) STRICT;

CREATE TABLE feed (
    id          TEXT NOT NULL PRIMARY KEY,
    demo        INTEGER NOT NULL,
    culture     TEXT NOT NULL REFERENCES culture (id) DEFERRABLE INITIALLY DEFERRED,
    at          INTEGER NOT NULL,
    zone        TEXT NOT NULL,
    seed        REAL NOT NULL,
    flour       REAL NOT NULL,
    water       REAL NOT NULL,
    temperature REAL,
    place       TEXT NOT NULL,
    note        TEXT NOT NULL
) STRICT;

CREATE TABLE plan (
    id              TEXT NOT NULL PRIMARY KEY,
    demo            INTEGER NOT NULL,
    recipe_version  TEXT NOT NULL REFERENCES recipe_version (id) DEFERRABLE INITIALLY DEFERRED,
    kitchen_version TEXT NOT NULL REFERENCES kitchen_version (id) DEFERRABLE INITIALLY DEFERRED,
    culture         TEXT REFERENCES culture (id) DEFERRABLE INITIALLY DEFERRED,
    at              INTEGER NOT NULL,
    ready           INTEGER NOT NULL,
    zone            TEXT NOT NULL,
    document        TEXT NOT NULL
) STRICT;

CREATE TABLE bake (
    id              TEXT NOT NULL PRIMARY KEY,
    demo            INTEGER NOT NULL,
    recipe_version  TEXT NOT NULL REFERENCES recipe_version (id) DEFERRABLE INITIALLY DEFERRED,
    kitchen_version TEXT NOT NULL REFERENCES kitchen_version (id) DEFERRABLE INITIALLY DEFERRED,
    plan            TEXT REFERENCES plan (id) DEFERRABLE INITIALLY DEFERRED,
    culture         TEXT REFERENCES culture (id) DEFERRABLE INITIALLY DEFERRED,
    began           INTEGER NOT NULL,
    finished        INTEGER,
    zone            TEXT NOT NULL,
    crumb           TEXT,
    crust           TEXT,
    oven_spring     TEXT,
    taste           TEXT,
    note            TEXT NOT NULL
) STRICT;

CREATE TABLE did (
    id   TEXT NOT NULL PRIMARY KEY,
    demo INTEGER NOT NULL,
    bake TEXT NOT NULL REFERENCES bake (id) DEFERRABLE INITIALLY DEFERRED,
    step INTEGER NOT NULL,
    at   INTEGER NOT NULL
) STRICT;

CREATE TABLE photo (
    id    TEXT NOT NULL PRIMARY KEY,
    demo  INTEGER NOT NULL,
    media TEXT NOT NULL,
    bytes INTEGER NOT NULL,
    at    INTEGER NOT NULL
) STRICT;

CREATE TABLE measurement (
    id      TEXT NOT NULL PRIMARY KEY,
    demo    INTEGER NOT NULL,
    bake    TEXT REFERENCES bake (id) DEFERRABLE INITIALLY DEFERRED,
    culture TEXT REFERENCES culture (id) DEFERRABLE INITIALLY DEFERRED,
    at      INTEGER NOT NULL,
    kind    TEXT NOT NULL,
    "of"    TEXT NOT NULL,
    value   REAL,
    error   REAL,
    photo   TEXT REFERENCES photo (id) DEFERRABLE INITIALLY DEFERRED,
    words   TEXT NOT NULL,
    device  TEXT NOT NULL
) STRICT;

CREATE TABLE annotation (
    id    TEXT NOT NULL PRIMARY KEY,
    demo  INTEGER NOT NULL,
    bake  TEXT NOT NULL REFERENCES bake (id) DEFERRABLE INITIALLY DEFERRED,
    at    INTEGER NOT NULL,
    words TEXT NOT NULL,
    photo TEXT REFERENCES photo (id) DEFERRABLE INITIALLY DEFERRED
) STRICT;

-- Every change: what, when, by whom; which one it undoes, which one undid it.
CREATE TABLE change (
    revision  INTEGER NOT NULL PRIMARY KEY,
    at        INTEGER NOT NULL,
    who       TEXT NOT NULL,
    what      TEXT NOT NULL,
    undoes    INTEGER,
    undone_by INTEGER
) STRICT;

-- The rows it touched, before and after, as JSON; null where there was none.
CREATE TABLE change_row (
    revision INTEGER NOT NULL REFERENCES change (revision) DEFERRABLE INITIALLY DEFERRED,
    place    INTEGER NOT NULL,
    entry    TEXT NOT NULL,
    id       TEXT NOT NULL,
    "before" TEXT,
    "after"  TEXT,
    PRIMARY KEY (revision, place)
) STRICT, WITHOUT ROWID;
