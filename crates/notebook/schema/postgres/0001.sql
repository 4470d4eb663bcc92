-- The notebook as it began. Keys are UUIDs as text (photos: their SHA-256), times milliseconds
-- since 1970 UTC, with the zone beside them where the clock on the wall matters. References are
-- looked at when a transaction ends, so that rows may come and go in any order.

CREATE TABLE notebook (
    one      BIGINT NOT NULL PRIMARY KEY CHECK (one = 1),
    revision BIGINT NOT NULL,
    schema   BIGINT NOT NULL
);
INSERT INTO notebook (one, revision, schema) VALUES (1, 0, 1);

CREATE TABLE recipe (
    id       TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo     BIGINT NOT NULL,
    current  TEXT COLLATE "C" NOT NULL,
    put_away BIGINT NOT NULL
);

CREATE TABLE recipe_version (
    id     TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo   BIGINT NOT NULL,
    recipe TEXT COLLATE "C" NOT NULL REFERENCES recipe (id) DEFERRABLE INITIALLY DEFERRED,
    parent TEXT COLLATE "C" REFERENCES recipe_version (id) DEFERRABLE INITIALLY DEFERRED,
    at     BIGINT NOT NULL,
    title  TEXT COLLATE "C" NOT NULL,
    note   TEXT COLLATE "C" NOT NULL,
    text   TEXT COLLATE "C" NOT NULL
);
ALTER TABLE recipe ADD FOREIGN KEY (current) REFERENCES recipe_version (id) DEFERRABLE INITIALLY DEFERRED;

CREATE TABLE kitchen (
    id       TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo     BIGINT NOT NULL,
    current  TEXT COLLATE "C" NOT NULL,
    put_away BIGINT NOT NULL
);

CREATE TABLE kitchen_version (
    id      TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo    BIGINT NOT NULL,
    kitchen TEXT COLLATE "C" NOT NULL REFERENCES kitchen (id) DEFERRABLE INITIALLY DEFERRED,
    parent  TEXT COLLATE "C" REFERENCES kitchen_version (id) DEFERRABLE INITIALLY DEFERRED,
    at      BIGINT NOT NULL,
    title   TEXT COLLATE "C" NOT NULL,
    note    TEXT COLLATE "C" NOT NULL,
    text    TEXT COLLATE "C" NOT NULL
);
ALTER TABLE kitchen ADD FOREIGN KEY (current) REFERENCES kitchen_version (id) DEFERRABLE INITIALLY DEFERRED;

CREATE TABLE culture (
    id        TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo      BIGINT NOT NULL,
    name      TEXT COLLATE "C" NOT NULL,
    flour     TEXT COLLATE "C" NOT NULL,
    hydration DOUBLE PRECISION NOT NULL,
    note      TEXT COLLATE "C" NOT NULL,
    put_away  BIGINT NOT NULL
);

CREATE TABLE feed (
    id          TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo        BIGINT NOT NULL,
    culture     TEXT COLLATE "C" NOT NULL REFERENCES culture (id) DEFERRABLE INITIALLY DEFERRED,
    at          BIGINT NOT NULL,
    zone        TEXT COLLATE "C" NOT NULL,
    seed        DOUBLE PRECISION NOT NULL,
    flour       DOUBLE PRECISION NOT NULL,
    water       DOUBLE PRECISION NOT NULL,
    temperature DOUBLE PRECISION,
    place       TEXT COLLATE "C" NOT NULL,
    note        TEXT COLLATE "C" NOT NULL
);

CREATE TABLE plan (
    id              TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo            BIGINT NOT NULL,
    recipe_version  TEXT COLLATE "C" NOT NULL REFERENCES recipe_version (id) DEFERRABLE INITIALLY DEFERRED,
    kitchen_version TEXT COLLATE "C" NOT NULL REFERENCES kitchen_version (id) DEFERRABLE INITIALLY DEFERRED,
    culture         TEXT COLLATE "C" REFERENCES culture (id) DEFERRABLE INITIALLY DEFERRED,
    at              BIGINT NOT NULL,
    ready           BIGINT NOT NULL,
    zone            TEXT COLLATE "C" NOT NULL,
    document        TEXT COLLATE "C" NOT NULL
);

CREATE TABLE bake (
    id              TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo            BIGINT NOT NULL,
    recipe_version  TEXT COLLATE "C" NOT NULL REFERENCES recipe_version (id) DEFERRABLE INITIALLY DEFERRED,
    kitchen_version TEXT COLLATE "C" NOT NULL REFERENCES kitchen_version (id) DEFERRABLE INITIALLY DEFERRED,
    plan            TEXT COLLATE "C" REFERENCES plan (id) DEFERRABLE INITIALLY DEFERRED,
    culture         TEXT COLLATE "C" REFERENCES culture (id) DEFERRABLE INITIALLY DEFERRED,
    began           BIGINT NOT NULL,
    finished        BIGINT,
    zone            TEXT COLLATE "C" NOT NULL,
    crumb           TEXT COLLATE "C",
    crust           TEXT COLLATE "C",
    oven_spring     TEXT COLLATE "C",
    taste           TEXT COLLATE "C",
    note            TEXT COLLATE "C" NOT NULL
);

CREATE TABLE did (
    id   TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo BIGINT NOT NULL,
    bake TEXT COLLATE "C" NOT NULL REFERENCES bake (id) DEFERRABLE INITIALLY DEFERRED,
    step BIGINT NOT NULL,
    at   BIGINT NOT NULL
);

CREATE TABLE photo (
    id    TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo  BIGINT NOT NULL,
    media TEXT COLLATE "C" NOT NULL,
    bytes BIGINT NOT NULL,
    at    BIGINT NOT NULL
);

CREATE TABLE measurement (
    id      TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo    BIGINT NOT NULL,
    bake    TEXT COLLATE "C" REFERENCES bake (id) DEFERRABLE INITIALLY DEFERRED,
    culture TEXT COLLATE "C" REFERENCES culture (id) DEFERRABLE INITIALLY DEFERRED,
    at      BIGINT NOT NULL,
    kind    TEXT COLLATE "C" NOT NULL,
    "of"    TEXT COLLATE "C" NOT NULL,
    value   DOUBLE PRECISION,
    error   DOUBLE PRECISION,
    photo   TEXT COLLATE "C" REFERENCES photo (id) DEFERRABLE INITIALLY DEFERRED,
    words   TEXT COLLATE "C" NOT NULL,
    device  TEXT COLLATE "C" NOT NULL
);

CREATE TABLE annotation (
    id    TEXT COLLATE "C" NOT NULL PRIMARY KEY,
    demo  BIGINT NOT NULL,
    bake  TEXT COLLATE "C" NOT NULL REFERENCES bake (id) DEFERRABLE INITIALLY DEFERRED,
    at    BIGINT NOT NULL,
    words TEXT COLLATE "C" NOT NULL,
    photo TEXT COLLATE "C" REFERENCES photo (id) DEFERRABLE INITIALLY DEFERRED
);

-- Every change: what, when, by whom; which one it undoes, which one undid it.
CREATE TABLE change (
    revision  BIGINT NOT NULL PRIMARY KEY,
    at        BIGINT NOT NULL,
    who       TEXT COLLATE "C" NOT NULL,
    what      TEXT COLLATE "C" NOT NULL,
    undoes    BIGINT,
    undone_by BIGINT
);

-- The rows it touched, before and after, as JSON; null where there was none.
CREATE TABLE change_row (
    revision BIGINT NOT NULL REFERENCES change (revision) DEFERRABLE INITIALLY DEFERRED,
    place    BIGINT NOT NULL,
    entry    TEXT COLLATE "C" NOT NULL,
    id       TEXT COLLATE "C" NOT NULL,
    "before" TEXT COLLATE "C",
    "after"  TEXT COLLATE "C",
    PRIMARY KEY (revision, place)
);
