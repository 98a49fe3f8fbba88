PRAGMA user_version=4;
BEGIN TRANSACTION;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
) STRICT;
INSERT INTO "_sqlite_migrations" VALUES(1,'tickets','m001_initial','2026-11-29 22:24:00.807972+00:00');
INSERT INTO "_sqlite_migrations" VALUES(2,'tickets','m002_stations_asked_for','2026-11-29 22:24:00.809746+00:00');
INSERT INTO "_sqlite_migrations" VALUES(3,'tickets','m003_who_changed_what','2026-11-29 22:24:00.812972+00:00');
INSERT INTO "_sqlite_migrations" VALUES(4,'tickets','m004_what_is_still_there','2026-11-29 22:24:00.814291+00:00');
CREATE TABLE buckets (
    id INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE REFERENCES codes, kind TEXT NOT NULL,
    product TEXT NOT NULL DEFAULT '', lot TEXT NOT NULL DEFAULT '', water_resistant TEXT NOT NULL DEFAULT 'unknown',
    mixed_at TEXT NOT NULL DEFAULT '', good_until TEXT NOT NULL DEFAULT '', used_at TEXT,
    test TEXT NOT NULL DEFAULT '', discarded_at TEXT
) STRICT;
INSERT INTO "buckets" VALUES(1,'JSTVSZ','dual-cure emulsion','Emulsion A','','yes','2026-03-09T08:02:00.000000Z','2026-04-06T08:02:00.000000Z',NULL,'',NULL);
CREATE TABLE burnt (
    exposure_unit TEXT NOT NULL, day TEXT NOT NULL, burnt_ms INTEGER NOT NULL, exposures INTEGER NOT NULL,
    untimed INTEGER NOT NULL, PRIMARY KEY (exposure_unit, day)
) STRICT, WITHOUT ROWID;
INSERT INTO "burnt" VALUES('','2026-04-23',80000,1,0);
CREATE TABLE carries (
    screen INTEGER NOT NULL REFERENCES screens, separation INTEGER NOT NULL REFERENCES separations,
    PRIMARY KEY (screen, separation)
) STRICT;
INSERT INTO "carries" VALUES(2,1);
INSERT INTO "carries" VALUES(3,1);
CREATE TABLE cautions (
    run INTEGER NOT NULL REFERENCES runs, place INTEGER NOT NULL, key TEXT NOT NULL, row INTEGER, value REAL,
    PRIMARY KEY (run, place)
) STRICT;
INSERT INTO "cautions" VALUES(1,0,'',NULL,NULL);
INSERT INTO "cautions" VALUES(1,1,'no-image',NULL,NULL);
INSERT INTO "cautions" VALUES(1,2,'not-ready',NULL,NULL);
CREATE TABLE changes (
    id INTEGER PRIMARY KEY, thing TEXT NOT NULL CHECK (thing IN ('person', 'place', 'exposure unit')),
    number INTEGER NOT NULL, what TEXT NOT NULL, was TEXT NOT NULL, becomes TEXT NOT NULL, at TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people
) STRICT;
INSERT INTO "changes" VALUES(1,'place',1,'added','','Press 1','2026-03-09T08:00:00.000000Z',1);
CREATE TABLE checks (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, entry TEXT NOT NULL, at TEXT NOT NULL,
    exposure_unit TEXT NOT NULL, emulsion INTEGER, count_per_cm REAL, result TEXT NOT NULL, fault TEXT NOT NULL,
    PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "checks" VALUES(2,0,'test-0000000000000014','2026-04-23T10:13:00.000000Z','',1,9.05511811023622073014e+01,'good','');
CREATE TABLE coated (bucket INTEGER PRIMARY KEY, stencils INTEGER NOT NULL, faulty INTEGER NOT NULL) STRICT;
INSERT INTO "coated" VALUES(1,1,0);
CREATE TABLE coats (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, stencil INTEGER NOT NULL,
    bucket INTEGER NOT NULL, at TEXT NOT NULL, entry TEXT NOT NULL, PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "coats" VALUES(2,0,0,1,'2026-03-09T08:09:00.000000Z','test-0000000000000010');
CREATE TABLE codes (
    code TEXT PRIMARY KEY, kind TEXT NOT NULL CHECK (kind IN ('screen', 'job', 'bucket', 'place')),
    thing INTEGER NOT NULL, made_at TEXT NOT NULL, replaced INTEGER NOT NULL DEFAULT 0 CHECK (replaced IN (0, 1))
) STRICT;
INSERT INTO "codes" VALUES('HVHFVA','place',1,'2026-03-09T08:00:00.000000Z',0);
INSERT INTO "codes" VALUES('3JJRZ4','job',1,'2026-03-09T08:01:00.000000Z',0);
INSERT INTO "codes" VALUES('JSTVSZ','bucket',1,'2026-03-09T08:02:00.000000Z',0);
INSERT INTO "codes" VALUES('DS9WM9','screen',1,'2026-03-09T08:03:00.000000Z',0);
INSERT INTO "codes" VALUES('3GW4E6','screen',2,'2026-03-09T08:04:00.000000Z',0);
INSERT INTO "codes" VALUES('FAVTJ5','screen',3,'2026-03-09T08:05:00.000000Z',0);
INSERT INTO "codes" VALUES('PJPFAA','screen',4,'2026-03-09T08:06:00.000000Z',0);
CREATE TABLE counts (standing TEXT NOT NULL, mesh TEXT NOT NULL, count_per_cm REAL, screens INTEGER NOT NULL,
    PRIMARY KEY (standing, mesh)) STRICT;
INSERT INTO "counts" VALUES('bare','230/in',90.5512,1);
INSERT INTO "counts" VALUES('degreased','230/in',90.5512,0);
INSERT INTO "counts" VALUES('coated','230/in',90.5512,0);
INSERT INTO "counts" VALUES('imaged','230/in',90.5512,0);
INSERT INTO "counts" VALUES('exposed','230/in',90.5512,0);
INSERT INTO "counts" VALUES('to check','230/in',90.5512,0);
INSERT INTO "counts" VALUES('ready','230/in',90.5512,2);
INSERT INTO "counts" VALUES('on press','230/in',90.5512,0);
INSERT INTO "counts" VALUES('kept','230/in',90.5512,1);
CREATE TABLE entries (
    id INTEGER PRIMARY KEY, entry TEXT NOT NULL UNIQUE, post TEXT NOT NULL, part INTEGER NOT NULL, step TEXT NOT NULL,
    screen INTEGER REFERENCES screens, run INTEGER REFERENCES runs, job INTEGER REFERENCES jobs,
    bucket INTEGER REFERENCES buckets, person INTEGER NOT NULL REFERENCES people, signed TEXT NOT NULL,
    at TEXT NOT NULL, saved_at TEXT NOT NULL, vals TEXT NOT NULL CHECK (json_valid(vals)),
    typed TEXT CHECK (typed IS NULL OR json_valid(typed)), verdict TEXT CHECK (verdict IS NULL OR json_valid(verdict)),
    override TEXT CHECK (override IS NULL OR json_valid(override)),
    crosses TEXT REFERENCES entries (entry)
) STRICT;
INSERT INTO "entries" VALUES(1,'test-0000000000000003','test-0000000000000003',1,'mix',NULL,NULL,NULL,1,1,'command line','2026-03-09T08:02:00.000000Z','2026-03-09T08:02:00.000000Z','{"kind": "dual-cure emulsion", "product": "Emulsion A", "water_resistant": "yes"}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(2,'test-0000000000000004','test-0000000000000004',1,'stretch',1,NULL,NULL,NULL,1,'command line','2026-03-09T08:03:00.000000Z','2026-03-09T08:03:00.000000Z','{"mesh_count_as_labelled": "230/in", "thread_um": 48.0, "frame": "aluminium", "mark": "H 01"}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(3,'test-0000000000000005','test-0000000000000005',1,'stretch',2,NULL,NULL,NULL,1,'command line','2026-03-09T08:04:00.000000Z','2026-03-09T08:04:00.000000Z','{"mesh_count_as_labelled": "230/in", "thread_um": 48.0, "frame": "aluminium", "mark": "H 02"}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(4,'test-0000000000000006','test-0000000000000006',1,'stretch',3,NULL,NULL,NULL,1,'command line','2026-03-09T08:05:00.000000Z','2026-03-09T08:05:00.000000Z','{"mesh_count_as_labelled": "230/in", "thread_um": 48.0, "frame": "aluminium", "mark": "H 03"}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(5,'test-0000000000000007','test-0000000000000007',1,'stretch',4,NULL,NULL,NULL,1,'command line','2026-03-09T08:06:00.000000Z','2026-03-09T08:06:00.000000Z','{"mesh_count_as_labelled": "230/in", "thread_um": 48.0, "frame": "aluminium", "mark": "H 04"}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(6,'test-0000000000000008','test-0000000000000008',1,'tension',2,NULL,NULL,NULL,1,'command line','2026-03-09T08:07:00.000000Z','2026-03-09T08:07:00.000000Z','{"readings_n_per_cm": [24.0, 24.0, 23.5, 24.0, 24.0]}','{"readings_n_per_cm": "24 24 23.5 24 24"}','{"level": "ok", "reasons": [{"key": "tension-in-spec", "level": "ok", "numbers": {"lowest_n_per_cm": 23.5, "watch_n_per_cm": 20.0, "floor_n_per_cm": 15.0, "new_mesh_n_per_cm": 24.0}, "spec": [3]}]}',NULL,NULL);
INSERT INTO "entries" VALUES(7,'test-0000000000000009','test-0000000000000009',1,'degrease',2,NULL,NULL,NULL,1,'command line','2026-03-09T08:08:00.000000Z','2026-03-09T08:08:00.000000Z','{}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(8,'test-0000000000000010','test-0000000000000010',1,'coat',2,NULL,NULL,NULL,1,'command line','2026-03-09T08:09:00.000000Z','2026-03-09T08:09:00.000000Z','{"bucket": 1}',NULL,'{"level": "ok", "reasons": [{"key": "coat-in-spec", "level": "ok", "numbers": {}}, {"key": "room-not-measured", "level": "ok", "numbers": {}}]}',NULL,NULL);
INSERT INTO "entries" VALUES(9,'test-0000000000000011','test-0000000000000011',1,'image',2,NULL,NULL,NULL,1,'command line','2026-04-23T08:10:00.000000Z','2026-04-23T08:10:00.000000Z','{"separations": [1]}',NULL,'{"level": "caution", "reasons": [{"key": "coated-too-long", "level": "caution", "numbers": {"age_d": 45.00069444444444, "limit_d": 28.0}, "spec": [26]}, {"key": "mesh-same", "level": "ok", "numbers": {"asked_per_in": 229.99999999908002, "count_per_in": 230.0}, "spec": [23, 24]}, {"key": "tension-in-spec", "level": "ok", "numbers": {"lowest_n_per_cm": 23.5, "watch_n_per_cm": 15.0, "floor_n_per_cm": 10.0, "new_mesh_n_per_cm": 24.0}, "spec": [1]}, {"key": "tension-recent", "level": "ok", "numbers": {"age_d": 45.00208333333333}, "spec": [20, 21]}]}',NULL,NULL);
INSERT INTO "entries" VALUES(10,'test-0000000000000012','test-0000000000000012',1,'expose',2,NULL,NULL,NULL,1,'command line','2026-04-23T08:11:00.000000Z','2026-04-23T08:11:00.000000Z','{"exposure_s": 80.0}',NULL,'{"level": "unknown", "reasons": [{"key": "exposure-time-unknown", "level": "unknown", "numbers": {}, "spec": [33]}, {"key": "coated-too-long", "level": "caution", "numbers": {"age_d": 45.00138888888889, "limit_d": 28.0}, "spec": [26]}]}',NULL,NULL);
INSERT INTO "entries" VALUES(11,'test-0000000000000013','test-0000000000000013',1,'washout',2,NULL,NULL,NULL,1,'command line','2026-04-23T08:12:00.000000Z','2026-04-23T08:12:00.000000Z','{"result": "good", "step_held": 3.0}',NULL,'{"level": "caution", "reasons": [{"key": "step-low", "level": "caution", "numbers": {"held": 3.0, "wanted": 7.0, "time_s": 80.0, "next_time_s": 320.0}, "spec": [31, 32]}, {"key": "washout-good", "level": "ok", "numbers": {}}]}',NULL,NULL);
INSERT INTO "entries" VALUES(12,'test-0000000000000014','test-0000000000000014',1,'check',2,NULL,NULL,NULL,1,'command line','2026-04-23T10:13:00.000000Z','2026-04-23T10:13:00.000000Z','{"result": "good"}',NULL,'{"level": "ok", "reasons": [{"key": "check-good", "level": "ok", "numbers": {}}]}',NULL,NULL);
INSERT INTO "entries" VALUES(13,'test-0000000000000015','test-0000000000000015',1,'found',3,NULL,NULL,NULL,3,'pin','2026-04-23T10:14:00.000000Z','2026-04-23T10:14:00.000000Z','{"standing_seen": "ready", "separations_seen": [1]}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(14,'test-0000000000000016','test-0000000000000016',1,'open',NULL,1,1,NULL,4,'pin','2026-04-23T10:15:00.000000Z','2026-04-23T10:15:00.000000Z','{"placement": 1, "press": 1, "version": 1}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(15,'test-0000000000000017-1','test-0000000000000017',1,'found',1,NULL,NULL,NULL,4,'pin','2026-04-23T10:16:00.000000Z','2026-04-23T10:16:00.000000Z','{"standing_seen": "ready", "why": "no other screen in time"}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(16,'test-0000000000000017-2','test-0000000000000017',2,'hang',1,1,NULL,NULL,4,'pin','2026-04-23T10:16:00.000000Z','2026-04-23T10:16:00.000000Z','{"run": 1, "head": 1, "station": 1, "press": 1}',NULL,'{"level": "stop", "reasons": [{"key": "no-image", "level": "stop", "numbers": {}}, {"key": "not-ready", "level": "stop", "numbers": {"standing_word": "bare"}}]}','{"who": "press lead", "person": 4, "why": "no other screen in time", "causes": ["no-image", "not-ready"]}',NULL);
INSERT INTO "entries" VALUES(17,'test-0000000000000018','test-0000000000000018',1,'approve',NULL,1,NULL,NULL,4,'pin','2026-04-23T10:17:00.000000Z','2026-04-23T10:17:00.000000Z','{"approved_by": "A. Customer", "approved_as": "customer", "how": "piece in hand"}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(18,'test-0000000000000019','test-0000000000000019',1,'start',NULL,1,NULL,NULL,4,'pin','2026-04-23T10:18:00.000000Z','2026-04-23T10:18:00.000000Z','{}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(19,'test-0000000000000020-1','test-0000000000000020',1,'count',NULL,1,NULL,NULL,4,'pin','2026-04-23T10:19:00.000000Z','2026-04-23T10:19:00.000000Z','{"good": 10}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(20,'test-0000000000000020-2','test-0000000000000020',2,'print',1,1,NULL,NULL,4,'pin','2026-04-23T10:19:00.000000Z','2026-04-23T10:19:00.000000Z','{"run": 1, "impressions": 10}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(21,'test-0000000000000021-1','test-0000000000000021',1,'pull',1,1,NULL,NULL,4,'pin','2026-04-23T10:20:00.000000Z','2026-04-23T10:20:00.000000Z','{"run": 1, "condition": "good", "then": "keep", "for": "run 1: Harbour day shirts, front"}',NULL,NULL,NULL,NULL);
INSERT INTO "entries" VALUES(22,'test-0000000000000021-2','test-0000000000000021',2,'pause',NULL,1,NULL,NULL,4,'pin','2026-04-23T10:20:00.000000Z','2026-04-23T10:20:00.000000Z','{}',NULL,NULL,NULL,NULL);
CREATE TABLE exposure_units (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL, key TEXT NOT NULL UNIQUE,
    lamp TEXT NOT NULL CHECK (lamp IN ('point', 'fluorescent', 'led')), made_at TEXT NOT NULL
, retired_at TEXT) STRICT;
CREATE TABLE exposures (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, at TEXT NOT NULL, exposure_unit TEXT NOT NULL,
    burnt_ms INTEGER, PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "exposures" VALUES(2,0,'2026-04-23T08:11:00.000000Z','',80000);
CREATE TABLE hangings (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, stencil INTEGER, run INTEGER NOT NULL,
    head INTEGER, station INTEGER, at TEXT NOT NULL, off_at TEXT NOT NULL, impressions INTEGER NOT NULL,
    PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "hangings" VALUES(1,0,0,1,1,1,'2026-04-23T10:16:00.000000Z','2026-04-23T10:20:00.000000Z',10);
CREATE TABLE ink_lots (
    run INTEGER NOT NULL REFERENCES runs, place INTEGER NOT NULL, station INTEGER NOT NULL, bucket TEXT NOT NULL,
    lot TEXT NOT NULL, PRIMARY KEY (run, place)
) STRICT;
CREATE TABLE job_pictures (
    job INTEGER NOT NULL REFERENCES jobs, version INTEGER NOT NULL, hash TEXT NOT NULL REFERENCES pictures,
    PRIMARY KEY (job, version)
) STRICT;
CREATE TABLE job_versions (
    job INTEGER NOT NULL REFERENCES jobs, version INTEGER NOT NULL, sheet TEXT NOT NULL CHECK (json_valid(sheet)),
    at TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people, PRIMARY KEY (job, version)
) STRICT;
INSERT INTO "job_versions" VALUES(1,1,'{"title": "Harbour day shirts", "customer": "Invented Bakery", "due": "2026-04-01", "art": {"name": "Harbour day", "revision": "A"}, "garment": [{"style": "plain shirt", "colour": "white", "pieces": 24, "fibre": {"cotton": 100}}], "placement": [{"name": "front", "width": "250 mm", "station": [{"does": "print", "colour": "black", "ink": "water-base", "mesh": {"count": "230/in", "thread": "48 um"}}]}]}','2026-03-09T08:01:00.000000Z',1);
CREATE TABLE jobs (
    id INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE REFERENCES codes, title TEXT NOT NULL, customer TEXT NOT NULL,
    due TEXT NOT NULL, reference TEXT NOT NULL DEFAULT '', repeats INTEGER REFERENCES jobs, version INTEGER NOT NULL,
    pieces INTEGER NOT NULL, made_at TEXT NOT NULL, closed_at TEXT
) STRICT;
INSERT INTO "jobs" VALUES(1,'3JJRZ4','Harbour day shirts','Invented Bakery','2026-04-01','',NULL,1,24,'2026-03-09T08:01:00.000000Z',NULL);
CREATE TABLE lamp_changes (
    id INTEGER PRIMARY KEY, exposure_unit INTEGER NOT NULL REFERENCES exposure_units, at TEXT NOT NULL,
    saved_at TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people, withdraws INTEGER REFERENCES lamp_changes
) STRICT;
CREATE TABLE meshes (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, number INTEGER NOT NULL,
    stretched_at TEXT NOT NULL, frame TEXT NOT NULL, count_per_cm REAL NOT NULL, thread_um REAL, uses INTEGER NOT NULL,
    impressions INTEGER NOT NULL, cycles INTEGER NOT NULL, ended_at TEXT NOT NULL, cause TEXT NOT NULL,
    PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "meshes" VALUES(2,0,1,'2026-03-09T08:04:00.000000Z','aluminium',9.05511811023622073014e+01,48.0,0,0,0,'','');
INSERT INTO "meshes" VALUES(3,0,1,'2026-03-09T08:05:00.000000Z','aluminium',9.05511811023622073014e+01,48.0,0,0,0,'','');
INSERT INTO "meshes" VALUES(4,0,1,'2026-03-09T08:06:00.000000Z','aluminium',9.05511811023622073014e+01,48.0,0,0,0,'','');
INSERT INTO "meshes" VALUES(1,0,1,'2026-03-09T08:03:00.000000Z','aluminium',9.05511811023622073014e+01,48.0,1,10,0,'','');
CREATE TABLE people (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL, key TEXT NOT NULL UNIQUE, role TEXT NOT NULL
        CHECK (role IN ('built-in', 'screen room', 'press', 'press lead', 'manager')),
    secret TEXT, made_at TEXT NOT NULL, left_at TEXT
) STRICT;
INSERT INTO "people" VALUES(1,'command line','command line','built-in',NULL,'2026-03-09T08:00:00.000000Z',NULL);
INSERT INTO "people" VALUES(2,'screen room person','screen room person','screen room',NULL,'2026-03-09T08:00:00.000000Z',NULL);
INSERT INTO "people" VALUES(3,'press person','press person','press',NULL,'2026-03-09T08:00:00.000000Z',NULL);
INSERT INTO "people" VALUES(4,'press lead person','press lead person','press lead',NULL,'2026-03-09T08:00:00.000000Z',NULL);
INSERT INTO "people" VALUES(5,'manager person','manager person','manager',NULL,'2026-03-09T08:00:00.000000Z',NULL);
CREATE TABLE pictures (
    hash TEXT PRIMARY KEY, kind TEXT NOT NULL CHECK (kind IN ('jpg', 'png')), bytes INTEGER NOT NULL,
    width INTEGER NOT NULL, height INTEGER NOT NULL, at TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people
) STRICT;
CREATE TABLE places (
    id INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE REFERENCES codes, name TEXT NOT NULL, key TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL CHECK (kind IN ('rack', 'cart', 'cabinet', 'press')),
    outside INTEGER NOT NULL DEFAULT 0 CHECK (outside IN (0, 1)), heads INTEGER, made_at TEXT NOT NULL
, retired_at TEXT) STRICT;
INSERT INTO "places" VALUES(1,'HVHFVA','Press 1','press 1','press',0,6,'2026-03-09T08:00:00.000000Z',NULL);
CREATE TABLE posts (
    post TEXT PRIMARY KEY, person INTEGER NOT NULL REFERENCES people, digest TEXT NOT NULL,
    answer TEXT NOT NULL CHECK (json_valid(answer)), saved_at TEXT NOT NULL
) STRICT;
INSERT INTO "posts" VALUES('test-0000000000000001',1,'3cf41c6af1fe5ee8015410940927b2ce0a53f27369d742fa52bb0031afcba16d','{"code": "HVHFVA"}','2026-03-09T08:00:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000002',1,'1f4fdf049aa04c51317af6685660f9ad5a6a844d30e00dd17e266fa6b1355e2f','{"codes": ["3JJRZ4"]}','2026-03-09T08:01:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000003',1,'e1ae5e03a4318860a431f75024e01fb3b19e1be47371239c000d780a663f7a23','{"code": "JSTVSZ"}','2026-03-09T08:02:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000004',1,'14ce46013401b58c1e0ab106939bf9c52f01b605bdf13182eafc4d296d4b3a76','{"codes": ["DS9WM9"]}','2026-03-09T08:03:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000005',1,'54442c6acfb5e4e15257d8d1b6d17168a88f4f24e8345cbb2e6fd66ba2ec275c','{"codes": ["3GW4E6"]}','2026-03-09T08:04:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000006',1,'2ea42119b8884bc83cf2ec280c16d816a5f0b5a2badbeb70cd999f5c46db1441','{"codes": ["FAVTJ5"]}','2026-03-09T08:05:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000007',1,'f51b354effb89355c0df19c4932bc65aadab9ad20fb844ab4b3cd498897a62d9','{"codes": ["PJPFAA"]}','2026-03-09T08:06:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000008',1,'6c89142f11d52b101af8b17aa5aa03efca9e9a58ca7b7c9e3e8f4c45208e1f29','{"entries": ["test-0000000000000008"], "verdict": {"level": "ok", "reasons": [{"key": "tension-in-spec", "level": "ok", "numbers": {"lowest_n_per_cm": 23.5, "watch_n_per_cm": 20.0, "floor_n_per_cm": 15.0, "new_mesh_n_per_cm": 24.0}, "spec": [3]}]}}','2026-03-09T08:07:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000009',1,'805bde4c3aef8e530bad1535e39ac8baa1a5d03e69ec63a52463ea01c6fd1f13','{"entries": ["test-0000000000000009"], "verdict": null}','2026-03-09T08:08:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000010',1,'b751a8cd7f41e57d8e010e485b5505987091f023470d9c1e0da6839e5254eaab','{"entries": ["test-0000000000000010"], "verdict": {"level": "ok", "reasons": [{"key": "coat-in-spec", "level": "ok", "numbers": {}}, {"key": "room-not-measured", "level": "ok", "numbers": {}}]}}','2026-03-09T08:09:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000011',1,'407da979512ec1423fa425081b3b55df740a0592ead1440acb5ecb4a060c7147','{"entries": ["test-0000000000000011"], "verdict": {"level": "caution", "reasons": [{"key": "coated-too-long", "level": "caution", "numbers": {"age_d": 45.00069444444444, "limit_d": 28.0}, "spec": [26]}, {"key": "mesh-same", "level": "ok", "numbers": {"asked_per_in": 229.99999999908002, "count_per_in": 230.0}, "spec": [23, 24]}, {"key": "tension-in-spec", "level": "ok", "numbers": {"lowest_n_per_cm": 23.5, "watch_n_per_cm": 15.0, "floor_n_per_cm": 10.0, "new_mesh_n_per_cm": 24.0}, "spec": [1]}, {"key": "tension-recent", "level": "ok", "numbers": {"age_d": 45.00208333333333}, "spec": [20, 21]}]}}','2026-04-23T08:10:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000012',1,'bc3cc145a74472d3f6aa5fd5db0eb47480f60b88458ca0b33c532265178b5475','{"entries": ["test-0000000000000012"], "verdict": {"level": "unknown", "reasons": [{"key": "exposure-time-unknown", "level": "unknown", "numbers": {}, "spec": [33]}, {"key": "coated-too-long", "level": "caution", "numbers": {"age_d": 45.00138888888889, "limit_d": 28.0}, "spec": [26]}]}}','2026-04-23T08:11:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000013',1,'5da76a3425ba942ecc74910fea3d8e4ae55117b51629126960ca22afc8f33a60','{"entries": ["test-0000000000000013"], "verdict": {"level": "caution", "reasons": [{"key": "step-low", "level": "caution", "numbers": {"held": 3.0, "wanted": 7.0, "time_s": 80.0, "next_time_s": 320.0}, "spec": [31, 32]}, {"key": "washout-good", "level": "ok", "numbers": {}}]}}','2026-04-23T08:12:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000014',1,'64a79ca6deea275793fd1f0b1aa9af9fd69cc375505fe36aaa5d68ec3367a2c3','{"entries": ["test-0000000000000014"], "verdict": {"level": "ok", "reasons": [{"key": "check-good", "level": "ok", "numbers": {}}]}}','2026-04-23T10:13:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000015',3,'623ba796fb3208de0140fbc08af49e3a8207275dadae96949ce66324fb56abf6','{"entries": ["test-0000000000000015"], "verdict": null}','2026-04-23T10:14:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000016',4,'719b041fc60feea9b12dfb6812b24ed4671b9a1c5e02eb99199f811bc76f0b12','{"run": 1}','2026-04-23T10:15:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000017',4,'eb13988e7a5f8685670238f3491eae5b92574e034325dfac4f03691be5b18664','{"entries": ["test-0000000000000017-1", "test-0000000000000017-2"], "verdict": {"level": "stop", "reasons": [{"key": "no-image", "level": "stop", "numbers": {}}, {"key": "not-ready", "level": "stop", "numbers": {"standing_word": "bare"}}]}, "station": 1}','2026-04-23T10:16:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000018',4,'1cbb7484db4d6ac0e7426c6f44d60a48c64ea0444e1da2da0a56158f50307646','{"entries": ["test-0000000000000018"]}','2026-04-23T10:17:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000019',4,'92747016ccd929696057b831223329d25aedd82d70c10a3f9081b28bf427c312','{"entries": ["test-0000000000000019"]}','2026-04-23T10:18:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000020',4,'35cd75a1be04ae78d9aff41118156262ab47cc1fc3e746ac0343dee08b169f22','{"entries": ["test-0000000000000020-1", "test-0000000000000020-2"]}','2026-04-23T10:19:00.000000Z');
INSERT INTO "posts" VALUES('test-0000000000000021',4,'02b5ed42e28c3fe6dbaa4bc32ee5868fcf7d7eb373cca4988d619ee66b114b2e','{"entries": ["test-0000000000000021-1", "test-0000000000000021-2"]}','2026-04-23T10:20:00.000000Z');
CREATE TABLE printed (
    id INTEGER PRIMARY KEY, kind TEXT NOT NULL, code TEXT NOT NULL, address TEXT NOT NULL, at TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people, version INTEGER, says TEXT NOT NULL CHECK (json_valid(says))
) STRICT;
CREATE TABLE runs (
    id INTEGER PRIMARY KEY, job INTEGER NOT NULL REFERENCES jobs, version INTEGER NOT NULL, placement INTEGER NOT NULL,
    press INTEGER NOT NULL REFERENCES places, opened_at TEXT NOT NULL, state TEXT NOT NULL DEFAULT 'set-up',
    done_at TEXT, impressions INTEGER NOT NULL DEFAULT 0, good INTEGER NOT NULL DEFAULT 0,
    story TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(story))
) STRICT;
INSERT INTO "runs" VALUES(1,1,1,1,1,'2026-04-23T10:15:00.000000Z','paused',NULL,10,10,'{"approved": {"approved_as": "customer", "approved_by": "A. Customer", "at": "2026-04-23T10:17:00.000000Z", "entry": "test-0000000000000018", "how": "piece in hand", "person": 4}, "causes": {}, "changes": [], "finished_at": "", "good": 10, "hung": {}, "impressions": 10, "last_at": "2026-04-23T10:20:00.000000Z", "lost": [], "misprinted": 0, "sheet": {}, "sheet_at": "", "sheet_entry": "", "started_at": "2026-04-23T10:18:00.000000Z", "state": "paused", "stops": [], "target": false, "was_hung": [{"at": "2026-04-23T10:16:00.000000Z", "entry": "test-0000000000000017-2", "head": 1, "level": "stop", "passed": {"causes": ["no-image", "not-ready"], "person": 4, "who": "press lead", "why": "no other screen in time"}, "reasons": ["no-image", "not-ready"], "screen": 1, "station": 1}]}');
CREATE TABLE screens (id INTEGER PRIMARY KEY, code TEXT NOT NULL UNIQUE REFERENCES codes, made_at TEXT NOT NULL) STRICT;
INSERT INTO "screens" VALUES(1,'DS9WM9','2026-03-09T08:03:00.000000Z');
INSERT INTO "screens" VALUES(2,'3GW4E6','2026-03-09T08:04:00.000000Z');
INSERT INTO "screens" VALUES(3,'FAVTJ5','2026-03-09T08:05:00.000000Z');
INSERT INTO "screens" VALUES(4,'PJPFAA','2026-03-09T08:06:00.000000Z');
CREATE TABLE separations (
    id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, customer TEXT NOT NULL, art TEXT NOT NULL, revision TEXT NOT NULL,
    width_mm INTEGER NOT NULL, name TEXT NOT NULL
) STRICT;
INSERT INTO "separations" VALUES(1,'["invented bakery", "harbour day", "a", 250, "black"]','Invented Bakery','Harbour day','A',250,'black');
CREATE TABLE settings (
    id INTEGER PRIMARY KEY, name TEXT NOT NULL, value TEXT NOT NULL CHECK (json_valid(value)),
    at TEXT NOT NULL, person INTEGER NOT NULL REFERENCES people
) STRICT;
CREATE TABLE sign_ins (
    token TEXT PRIMARY KEY, person INTEGER REFERENCES people, signed TEXT NOT NULL DEFAULT 'pin'
        CHECK (signed IN ('pin', 'tap', 'password')),
    at TEXT NOT NULL, secret_at TEXT, seen_at TEXT NOT NULL,
    shift TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(shift)),
    doing TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(doing)),
    view TEXT NOT NULL DEFAULT 'day'
) STRICT;
CREATE TABLE spec (
    id INTEGER PRIMARY KEY, key TEXT NOT NULL, value TEXT NOT NULL CHECK (json_valid(value)), unit TEXT NOT NULL,
    conditions TEXT NOT NULL CHECK (json_valid(conditions)), source TEXT NOT NULL, at TEXT NOT NULL,
    person INTEGER NOT NULL REFERENCES people
) STRICT;
INSERT INTO "spec" VALUES(1,'tension-watch','15.0','N/cm','{"work": "one-colour"}','judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of presses: 20 N/cm as the floor for several colours, 10 to 20 as the floor for anything','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(2,'tension-floor','10.0','N/cm','{"work": "one-colour"}','judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of presses: 20 N/cm as the floor for several colours, 10 to 20 as the floor for anything','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(3,'tension-watch','20.0','N/cm','{"work": "colours"}','judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of presses: 20 N/cm as the floor for several colours, 10 to 20 as the floor for anything','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(4,'tension-floor','15.0','N/cm','{"work": "colours"}','judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of presses: 20 N/cm as the floor for several colours, 10 to 20 as the floor for anything','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(5,'tension-watch','22.0','N/cm','{"work": "halftone"}','judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of presses: 20 N/cm as the floor for several colours, 10 to 20 as the floor for anything','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(6,'tension-floor','18.0','N/cm','{"work": "halftone"}','judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of presses: 20 N/cm as the floor for several colours, 10 to 20 as the floor for anything','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(7,'tension-watch','10.0','N/cm','{"work": "one-colour", "frame": "wood"}','judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of presses: 20 N/cm as the floor for several colours, 10 to 20 as the floor for anything','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(8,'tension-floor','7.0','N/cm','{"work": "one-colour", "frame": "wood"}','judgement, between the figures of Images (2019, 2024), Graphics Pro (Jan 2023), two suppliers and a maker of presses: 20 N/cm as the floor for several colours, 10 to 20 as the floor for anything','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(9,'new-mesh-tension','25.0','N/cm','{"frame": "aluminium", "count_to_per_in": 170}','judgement, from Images (June 2024: 35 at 43-55/cm, 25-28 at 62-90/cm, 20-22 at 100-120/cm on rollers; Aug 2019: 25 static, 35 roller)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(10,'new-mesh-tension','24.0','N/cm','{"frame": "aluminium", "count_over_per_in": 170, "count_to_per_in": 240}','judgement, from Images (June 2024: 35 at 43-55/cm, 25-28 at 62-90/cm, 20-22 at 100-120/cm on rollers; Aug 2019: 25 static, 35 roller)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(11,'new-mesh-tension','21.0','N/cm','{"frame": "aluminium", "count_over_per_in": 240}','judgement, from Images (June 2024: 35 at 43-55/cm, 25-28 at 62-90/cm, 20-22 at 100-120/cm on rollers; Aug 2019: 25 static, 35 roller)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(12,'new-mesh-tension','35.0','N/cm','{"frame": "roller", "count_to_per_in": 150}','judgement, from Images (June 2024: 35 at 43-55/cm, 25-28 at 62-90/cm, 20-22 at 100-120/cm on rollers; Aug 2019: 25 static, 35 roller)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(13,'new-mesh-tension','26.0','N/cm','{"frame": "roller", "count_over_per_in": 150, "count_to_per_in": 240}','judgement, from Images (June 2024: 35 at 43-55/cm, 25-28 at 62-90/cm, 20-22 at 100-120/cm on rollers; Aug 2019: 25 static, 35 roller)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(14,'new-mesh-tension','21.0','N/cm','{"frame": "roller", "count_over_per_in": 240}','judgement, from Images (June 2024: 35 at 43-55/cm, 25-28 at 62-90/cm, 20-22 at 100-120/cm on rollers; Aug 2019: 25 static, 35 roller)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(15,'new-mesh-tension','15.0','N/cm','{"frame": "wood"}','judgement, from Images (June 2024: 35 at 43-55/cm, 25-28 at 62-90/cm, 20-22 at 100-120/cm on rollers; Aug 2019: 25 static, 35 roller)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(16,'tension-ceiling','40.0','N/cm','{}','Images, June 2024: about 40 printed well, with too many burst screens; the mesh maker''s limit wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(17,'tension-spread','5.0','N/cm','{}','a newsletter on tension: a spread of 5 N/cm means the stretch has failed','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(18,'tension-spread','3.0','N/cm','{"work": "halftone"}','Screen Printing, Feb 2001: 3 N/cm across one screen is too much for halftone','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(19,'tension-neighbours','15.0','%','{}','judgement: published advice only says that the screens of one job should be alike (points of new mesh)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(20,'tension-age','90.0','d','{}','judgement','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(21,'tension-age-stencils','5.0','','{}','judgement','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(22,'settled-uses','2.0','','{}','two articles on tension loss: mesh settles after one or two print runs','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(23,'mesh-count-tolerance','3.0','%','{}','judgement: 90/cm is sold as 225, 228.6 or 230/in, which is one mesh','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(24,'mesh-thread-tolerance','2.0','um','{}','judgement','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(25,'coated-age','7.0','d','{"work": "halftone", "emulsion": "diazo"}','Screen Printing, Sept 2003: at most a week to keep 3-4 % dots (the emulsion goes on hardening in the dark)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(26,'coated-age','28.0','d','{}','judgement','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(27,'keep-days','90.0','d','{}','judgement: keep for a season''s repeats, unless the frames run short','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(28,'mixed-emulsion-age','28.0','d','{"emulsion": "diazo"}','Screen Printing, Sept 2003: 4 weeks at most; Graphics Pro: about 6 weeks, 3 days at 37 °C','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(29,'mixed-emulsion-age','28.0','d','{"emulsion": "dual-cure"}','Screen Printing, Sept 2003: 4 weeks at most; Graphics Pro: about 6 weeks, 3 days at 37 °C','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(30,'mixed-emulsion-age','330.0','d','{"emulsion": "photopolymer"}','Screen Printing, Sept 2003: almost a year in use','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(31,'wanted-step','7.0','','{}','an emulsion maker: at least a solid step 7 for direct stencils; the emulsion''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(32,'step-above','2.0','','{}','judgement: two steps over are twice the light, where fine detail begins to go','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(33,'exposure-tolerance','20.0','%','{}','judgement: two replies on exposure call changes under about 25 % not noticeable; one step is 41 %','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(34,'lamp-distance-diagonals','1.5','','{}','an emulsion maker: a point lamp stands at least 1.5 diagonals of the stencil away','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(35,'lamp-hours','500.0','h','{"lamp": "point"}','a trade magazine''s answer: point lamps after 500 hours of exposure or 6 months','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(36,'lamp-age','182.0','d','{"lamp": "point"}','a trade magazine''s answer: point lamps after 500 hours of exposure or 6 months','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(37,'lamp-age','365.0','d','{"lamp": "fluorescent"}','a trade magazine''s answer: fluorescent tubes every 6 to 12 months','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(38,'lamp-drift','25.0','%','{}','a lamp study: about 80 % of the first output is left at the end of life, which asks for 25 % more time','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(39,'drying-temperature','35.0','degC','{}','an emulsion maker: drying air below 35 °C and 50 % humidity; diazo hardens by heat above 40 °C','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(40,'drying-temperature-highest','40.0','degC','{}','an emulsion maker: hardening by heat starts above 40 °C','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(41,'drying-humidity','50.0','%','{}','an emulsion maker: drying air below 35 °C and 50 % humidity','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(42,'minutes-to-dry','60.0','min','{"after": "coat"}','Screen Printing, May 2002: touch dry in 1 h at 21 °C and 50 %; 15-20 min at 38 °C and 20 %','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(43,'minutes-to-dry','60.0','min','{"after": "washout"}','common practice','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(44,'halftone-ratio','3.5','','{}','Screen Printing, April 2003: 3.5 and 4 threads to a line are in use; a mesh maker: 2.5, 3.75 or 5','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(45,'halftone-ratio-least','2.5','','{}','a mesh maker''s lowest advice: 2.5 threads to a line','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(46,'moire-angle','45.0','deg','{}','a mesh maker: 0, 45 and 90 degrees to the threads are worst (each multiple of this angle)','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(47,'moire-margin','5.0','deg','{}','judgement: the same mesh maker''s good angles, 7.5 to 82.5 degrees, stay 7.5 clear','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(48,'build-least','10.0','%','{}','a forum: emulsion over mesh 10 % at least; textile 15-20 % by another article','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(49,'build-most','25.0','%','{}','a forum: emulsion over mesh 25 % at most; textile 15-20 % by another article','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(50,'build-most','20.0','%','{"work": "halftone"}','judgement: halftones want a thin stencil, 10-15 % by common practice','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(51,'flake-factor','3.0','','{}','common practice: an opening three times the largest particle; some say 2.5','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(52,'colour-warn','1.0','','{}','judgement, within the 0.5 to 1.5 that textile buyers set','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(53,'colour-fail','2.0','','{}','judgement, under the 2.5 that print buyers take on average','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(54,'dye-bleed-onset','132.0','degC','{"fibre": "polyester"}','an article on migration: dyes are set at 270-300 °F; others print 265 to 330 °F, so set your own garment''s','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(55,'cure-temperature','160.0','degC','{"ink": "plastisol"}','an ink maker''s rule of thumb: 320 °F for a minute at least; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(56,'cure-hold','60.0','s','{"ink": "plastisol"}','an ink maker''s rule of thumb: 320 °F for a minute at least; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(57,'cure-temperature','127.0','degC','{"ink": "low-cure plastisol"}','a garment maker''s guide: 250-280 °F; one ink series 270-280 °F; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(58,'cure-hold','60.0','s','{"ink": "low-cure plastisol"}','judgement','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(59,'cure-temperature','149.0','degC','{"ink": "water-base"}','an article on water-base: 300-320 °F held for 2-3 minutes; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(60,'cure-hold','120.0','s','{"ink": "water-base"}','an article on water-base: 300-320 °F held for 2-3 minutes; moving air shortens it','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(61,'cure-temperature','160.0','degC','{"ink": "discharge"}','a forum: the whole layer at 320 °F for 20-30 s, some 3 minutes in the dryer; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(62,'cure-hold','30.0','s','{"ink": "discharge"}','a forum: the whole layer at 320 °F for 20-30 s, some 3 minutes in the dryer; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(63,'discharge-start','121.0','degC','{"ink": "discharge"}','a forum: the dye begins to go at about 250 °F; a white paper: above 180 °F while wet','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(64,'cure-temperature','127.0','degC','{"ink": "silicone"}','Graphics Pro on silicone: 260 °F; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(65,'cure-hold','60.0','s','{"ink": "silicone"}','judgement','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(66,'pot-life','6.0','h','{"ink": "discharge"}','Screen Printing, Sep 2007: makers say 6-8 h, the author mixes for 2-4 h; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(67,'pot-life','4.0','h','{"ink": "water-base"}','an article on water-base: some catalysts start a 4-8 h clock; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(68,'pot-life','4.0','h','{"ink": "silicone"}','judgement: no published figure, only hours; the ink''s own sheet wins','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(69,'discharge-cotton','100.0','%','{}','two ink makers'' notes: natural fibre only; blends come out muted, some shops print 50/50','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(70,'discharge-cotton-least','50.0','%','{}','two articles: some shops print discharge on 50/50 blends','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(71,'ink-waste','10.0','%','{}','judgement: what stays in the pot, on blades and screens, and on test prints','2026-03-09T08:00:00.000000Z',1);
INSERT INTO "spec" VALUES(72,'tension-ceiling','38.0','N/cm','{}','our own test','2026-04-23T10:21:00.000000Z',5);
CREATE TABLE standings (
    screen INTEGER PRIMARY KEY REFERENCES screens, standing TEXT NOT NULL, since TEXT NOT NULL, mark TEXT NOT NULL,
    mark_key TEXT NOT NULL, mesh TEXT NOT NULL, count_per_cm REAL, thread_um REAL, frame TEXT NOT NULL, place INTEGER,
    run INTEGER, conflict INTEGER NOT NULL, tension_at TEXT NOT NULL, minimum_n_per_cm REAL, stencils_since INTEGER,
    coated_at TEXT NOT NULL, uses INTEGER NOT NULL, impressions INTEGER NOT NULL, cycles INTEGER NOT NULL,
    inked INTEGER NOT NULL, last_at TEXT NOT NULL, life TEXT NOT NULL CHECK (json_valid(life))
) STRICT;
INSERT INTO "standings" VALUES(1,'kept','2026-04-23T10:20:00.000000Z','H 01','h01','230/in',90.5512,48.0,'aluminium',1,NULL,0,'',NULL,NULL,'',1,10,0,1,'2026-04-23T10:20:00.000000Z','{"conflict": false, "conflicts": [], "cycles": 0, "decided": "keep", "fault": "", "gaps": [], "head": null, "hung_impressions": 0, "impressions": 10, "inked": true, "keep_for": "run 1: Harbour day shirts, front", "keep_until": "", "last_at": "2026-04-23T10:20:00.000000Z", "last_step": "pull", "mark": "H 01", "mesh": {"by": "", "colour": "", "count_as_labelled": "230/in", "count_per_cm": 90.55118110236221, "fabric_thickness_um": null, "frame": "aluminium", "frame_size_mm": "", "ink_volume_cm3_m2": null, "open_area_pct": null, "opening_um": null, "stretched_at": "2026-03-09T08:03:00.000000Z", "thread_um": 48.0}, "meshes": 1, "not_at": null, "place": 1, "place_since": "2026-04-23T10:16:00.000000Z", "retensioned_at": "", "run": null, "since": "2026-04-23T10:20:00.000000Z", "standing": "kept", "station": null, "stencil": {"accepted": null, "bucket": null, "by_eye": null, "check": "", "checked_at": "", "checked_by": null, "coated_at": "", "coats": 0, "condition": "", "exposed_at": "", "exposure_s": null, "exposure_unit": "", "exposure_units": null, "fault": "", "hardened": false, "imaged_at": "", "impressions": 10, "means": "", "number": 1, "preset": "", "purpose": "", "separations": [], "step_held": null, "washed_at": "", "washout": ""}, "stencils": 1, "tension": null, "tension_logged": true, "torn": false, "under": "kept", "uses": 1}');
INSERT INTO "standings" VALUES(2,'ready','2026-04-23T10:13:00.000000Z','H 02','h02','230/in',90.5512,48.0,'aluminium',NULL,NULL,0,'2026-03-09T08:07:00.000000Z',23.5,1,'2026-03-09T08:09:00.000000Z',0,0,0,0,'2026-04-23T10:13:00.000000Z','{"conflict": false, "conflicts": [], "cycles": 0, "decided": "", "fault": "", "gaps": [], "head": null, "hung_impressions": 0, "impressions": 0, "inked": false, "keep_for": "", "keep_until": "", "last_at": "2026-04-23T10:13:00.000000Z", "last_step": "check", "mark": "H 02", "mesh": {"by": "", "colour": "", "count_as_labelled": "230/in", "count_per_cm": 90.55118110236221, "fabric_thickness_um": null, "frame": "aluminium", "frame_size_mm": "", "ink_volume_cm3_m2": null, "open_area_pct": null, "opening_um": null, "stretched_at": "2026-03-09T08:04:00.000000Z", "thread_um": 48.0}, "meshes": 1, "not_at": null, "place": null, "place_since": "", "retensioned_at": "", "run": null, "since": "2026-04-23T10:13:00.000000Z", "standing": "ready", "station": null, "stencil": {"accepted": null, "bucket": 1, "by_eye": null, "check": "good", "checked_at": "2026-04-23T10:13:00.000000Z", "checked_by": 1, "coated_at": "2026-03-09T08:09:00.000000Z", "coats": 1, "condition": "", "exposed_at": "2026-04-23T08:11:00.000000Z", "exposure_s": 80.0, "exposure_unit": "", "exposure_units": null, "fault": "", "hardened": false, "imaged_at": "2026-04-23T08:10:00.000000Z", "impressions": 0, "means": "", "number": 1, "preset": "", "purpose": "", "separations": [1], "step_held": 3.0, "washed_at": "2026-04-23T08:12:00.000000Z", "washout": "good"}, "stencils": 1, "tension": {"at": "2026-03-09T08:07:00.000000Z", "entry": "test-0000000000000008", "readings_n_per_cm": [24.0, 24.0, 23.5, 24.0, 24.0], "readings_weft_n_per_cm": [], "stencils_since": 1}, "tension_logged": true, "torn": false, "under": "ready", "uses": 0}');
INSERT INTO "standings" VALUES(3,'ready','2026-04-23T10:14:00.000000Z','H 03','h03','230/in',90.5512,48.0,'aluminium',NULL,NULL,0,'',NULL,NULL,'',0,0,0,0,'2026-04-23T10:14:00.000000Z','{"conflict": false, "conflicts": [], "cycles": 0, "decided": "", "fault": "", "gaps": [], "head": null, "hung_impressions": 0, "impressions": 0, "inked": false, "keep_for": "", "keep_until": "", "last_at": "2026-04-23T10:14:00.000000Z", "last_step": "found", "mark": "H 03", "mesh": {"by": "", "colour": "", "count_as_labelled": "230/in", "count_per_cm": 90.55118110236221, "fabric_thickness_um": null, "frame": "aluminium", "frame_size_mm": "", "ink_volume_cm3_m2": null, "open_area_pct": null, "opening_um": null, "stretched_at": "2026-03-09T08:05:00.000000Z", "thread_um": 48.0}, "meshes": 1, "not_at": null, "place": null, "place_since": "", "retensioned_at": "", "run": null, "since": "2026-04-23T10:14:00.000000Z", "standing": "ready", "station": null, "stencil": {"accepted": null, "bucket": null, "by_eye": 3, "check": "", "checked_at": "", "checked_by": null, "coated_at": "", "coats": 0, "condition": "", "exposed_at": "", "exposure_s": null, "exposure_unit": "", "exposure_units": null, "fault": "", "hardened": false, "imaged_at": "", "impressions": 0, "means": "", "number": 1, "preset": "", "purpose": "", "separations": [1], "step_held": null, "washed_at": "", "washout": ""}, "stencils": 1, "tension": null, "tension_logged": true, "torn": false, "under": "ready", "uses": 0}');
INSERT INTO "standings" VALUES(4,'bare','2026-03-09T08:06:00.000000Z','H 04','h04','230/in',90.5512,48.0,'aluminium',NULL,NULL,0,'',NULL,NULL,'',0,0,0,0,'2026-03-09T08:06:00.000000Z','{"conflict": false, "conflicts": [], "cycles": 0, "decided": "", "fault": "", "gaps": [], "head": null, "hung_impressions": 0, "impressions": 0, "inked": false, "keep_for": "", "keep_until": "", "last_at": "2026-03-09T08:06:00.000000Z", "last_step": "stretch", "mark": "H 04", "mesh": {"by": "", "colour": "", "count_as_labelled": "230/in", "count_per_cm": 90.55118110236221, "fabric_thickness_um": null, "frame": "aluminium", "frame_size_mm": "", "ink_volume_cm3_m2": null, "open_area_pct": null, "opening_um": null, "stretched_at": "2026-03-09T08:06:00.000000Z", "thread_um": 48.0}, "meshes": 1, "not_at": null, "place": null, "place_since": "", "retensioned_at": "", "run": null, "since": "2026-03-09T08:06:00.000000Z", "standing": "bare", "station": null, "stencil": null, "stencils": 0, "tension": null, "tension_logged": true, "torn": false, "under": "bare", "uses": 0}');
CREATE TABLE stations (
    job INTEGER NOT NULL REFERENCES jobs, placement INTEGER NOT NULL, station INTEGER NOT NULL,
    separation INTEGER NOT NULL REFERENCES separations, mesh TEXT NOT NULL, count_per_cm REAL NOT NULL, thread_um REAL,
    ink TEXT NOT NULL, work TEXT NOT NULL, PRIMARY KEY (job, placement, station)
) STRICT;
INSERT INTO "stations" VALUES(1,1,1,1,'230/in',90.551181102,48.0,'water-base','one-colour');
CREATE TABLE stays (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, standing TEXT NOT NULL, mesh TEXT NOT NULL,
    count_per_cm REAL, since TEXT NOT NULL, until TEXT NOT NULL, hours REAL, PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "stays" VALUES(4,0,'bare','230/in',90.5512,'2026-03-09T08:06:00.000000Z','',NULL);
INSERT INTO "stays" VALUES(2,0,'bare','230/in',90.5512,'2026-03-09T08:04:00.000000Z','2026-03-09T08:08:00.000000Z',0.067);
INSERT INTO "stays" VALUES(2,1,'degreased','230/in',90.5512,'2026-03-09T08:08:00.000000Z','2026-03-09T08:09:00.000000Z',0.017);
INSERT INTO "stays" VALUES(2,2,'coated','230/in',90.5512,'2026-03-09T08:09:00.000000Z','2026-04-23T08:10:00.000000Z',1080.017);
INSERT INTO "stays" VALUES(2,3,'imaged','230/in',90.5512,'2026-04-23T08:10:00.000000Z','2026-04-23T08:11:00.000000Z',0.017);
INSERT INTO "stays" VALUES(2,4,'exposed','230/in',90.5512,'2026-04-23T08:11:00.000000Z','2026-04-23T08:12:00.000000Z',0.017);
INSERT INTO "stays" VALUES(2,5,'to check','230/in',90.5512,'2026-04-23T08:12:00.000000Z','2026-04-23T10:13:00.000000Z',2.017);
INSERT INTO "stays" VALUES(2,6,'ready','230/in',90.5512,'2026-04-23T10:13:00.000000Z','',NULL);
INSERT INTO "stays" VALUES(3,0,'bare','230/in',90.5512,'2026-03-09T08:05:00.000000Z','2026-04-23T10:14:00.000000Z',1082.15);
INSERT INTO "stays" VALUES(3,1,'ready','230/in',90.5512,'2026-04-23T10:14:00.000000Z','',NULL);
INSERT INTO "stays" VALUES(1,0,'bare','230/in',90.5512,'2026-03-09T08:03:00.000000Z','2026-04-23T10:16:00.000000Z',1082.217);
INSERT INTO "stays" VALUES(1,1,'on press','230/in',90.5512,'2026-04-23T10:16:00.000000Z','2026-04-23T10:20:00.000000Z',0.067);
INSERT INTO "stays" VALUES(1,2,'kept','230/in',90.5512,'2026-04-23T10:20:00.000000Z','',NULL);
CREATE TABLE stencils (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, mesh INTEGER NOT NULL, number INTEGER NOT NULL,
    mesh_label TEXT NOT NULL, count_per_cm REAL, bucket INTEGER, preset TEXT NOT NULL, begun_at TEXT NOT NULL,
    coated_at TEXT NOT NULL, imaged_at TEXT NOT NULL, means TEXT NOT NULL, separations TEXT NOT NULL,
    exposed_at TEXT NOT NULL, exposure_unit TEXT NOT NULL, exposure_s REAL, exposure_units REAL,
    washed_at TEXT NOT NULL, washout TEXT NOT NULL, step_held REAL, checked_at TEXT NOT NULL, checked TEXT NOT NULL,
    faults TEXT NOT NULL, missed TEXT NOT NULL, ready_at TEXT NOT NULL, impressions INTEGER NOT NULL,
    ended_at TEXT NOT NULL, turnaround_h REAL, PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "stencils" VALUES(2,0,1,1,'230/in',90.5512,1,'','2026-03-09T08:09:00.000000Z','2026-03-09T08:09:00.000000Z','2026-04-23T08:10:00.000000Z','','1','2026-04-23T08:11:00.000000Z','',80.0,NULL,'2026-04-23T08:12:00.000000Z','good',3.0,'2026-04-23T10:13:00.000000Z','good','','','2026-04-23T10:13:00.000000Z',0,'',NULL);
INSERT INTO "stencils" VALUES(3,0,1,1,'230/in',90.5512,NULL,'','2026-04-23T10:14:00.000000Z','','','','1','','',NULL,NULL,'','',NULL,'','','','','2026-04-23T10:14:00.000000Z',0,'',NULL);
INSERT INTO "stencils" VALUES(1,0,1,1,'230/in',90.5512,NULL,'','2026-04-23T10:16:00.000000Z','','','','','','',NULL,NULL,'','',NULL,'','','','','2026-04-23T10:16:00.000000Z',10,'',NULL);
CREATE TABLE tensions (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, entry TEXT NOT NULL, at TEXT NOT NULL,
    mesh INTEGER NOT NULL, uses INTEGER NOT NULL, impressions INTEGER NOT NULL, cycles INTEGER NOT NULL,
    mean_n_per_cm REAL NOT NULL, minimum_n_per_cm REAL NOT NULL, spread_n_per_cm REAL NOT NULL,
    warp TEXT NOT NULL CHECK (json_valid(warp)), PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "tensions" VALUES(2,0,'test-0000000000000008','2026-03-09T08:07:00.000000Z',1,0,0,0,23.9,23.5,0.5,'[24.0, 24.0, 23.5, 24.0, 24.0]');
CREATE TABLE tries (key TEXT PRIMARY KEY, failures INTEGER NOT NULL, at TEXT NOT NULL) STRICT;
CREATE TABLE upsets (
    run INTEGER NOT NULL REFERENCES runs, place INTEGER NOT NULL, at TEXT NOT NULL, step TEXT NOT NULL,
    cause TEXT NOT NULL, minutes REAL, good INTEGER NOT NULL, misprinted INTEGER NOT NULL, PRIMARY KEY (run, place)
) STRICT;
INSERT INTO "upsets" VALUES(1,0,'2026-04-23T10:19:00.000000Z','count','',NULL,10,0);
CREATE TABLE washouts (
    screen INTEGER NOT NULL REFERENCES screens, place INTEGER NOT NULL, entry TEXT NOT NULL, at TEXT NOT NULL,
    exposure_unit TEXT NOT NULL, emulsion INTEGER, count_per_cm REAL, thread_um REAL, mesh_colour TEXT NOT NULL,
    preset TEXT NOT NULL, exposure_s REAL, exposure_units REAL, step_held REAL, irradiance_mw_cm2 REAL,
    distance_mm REAL, result TEXT NOT NULL, fault TEXT NOT NULL, PRIMARY KEY (screen, place)
) STRICT;
INSERT INTO "washouts" VALUES(2,0,'test-0000000000000013','2026-04-23T08:12:00.000000Z','',1,9.05511811023622073014e+01,48.0,'','',80.0,NULL,3.0,NULL,NULL,'good','');
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX settings_by_name ON settings (name, id);
CREATE INDEX codes_by_thing ON codes (kind, thing);
CREATE INDEX lamp_changes_by_unit ON lamp_changes (exposure_unit, at);
CREATE INDEX separations_by_art ON separations (art, revision);
CREATE INDEX jobs_by_due ON jobs (due, id);
CREATE INDEX jobs_open ON jobs (due, id) WHERE closed_at IS NULL;
CREATE INDEX jobs_by_reference ON jobs (reference);
CREATE INDEX stations_by_separation ON stations (separation);
CREATE UNIQUE INDEX runs_open ON runs (job, placement, press) WHERE done_at IS NULL;
CREATE INDEX runs_by_job ON runs (job, placement, id);
CREATE INDEX runs_by_press ON runs (press, id);
CREATE INDEX buckets_open ON buckets (kind, good_until) WHERE discarded_at IS NULL;
CREATE INDEX buckets_by_lot ON buckets (lot) WHERE lot <> '';
CREATE INDEX entries_by_screen ON entries (screen, at, saved_at, part, entry) WHERE screen IS NOT NULL;
CREATE INDEX entries_by_run ON entries (run, at, saved_at, part, entry) WHERE run IS NOT NULL;
CREATE INDEX entries_by_bucket ON entries (bucket, at, saved_at, part, entry) WHERE bucket IS NOT NULL;
CREATE INDEX entries_by_job ON entries (job, at) WHERE job IS NOT NULL;
CREATE INDEX entries_by_time ON entries (at, id);
CREATE INDEX entries_by_post ON entries (post);
CREATE UNIQUE INDEX entries_crossed_once ON entries (crosses) WHERE crosses IS NOT NULL;
CREATE INDEX standings_inked ON standings (place) WHERE inked = 1;
CREATE INDEX standings_by_standing ON standings (standing, count_per_cm, screen);
CREATE INDEX standings_by_mesh ON standings (count_per_cm, screen);
CREATE INDEX standings_by_mark ON standings (mark_key) WHERE mark_key <> '';
CREATE INDEX standings_by_place ON standings (place, screen, standing) WHERE place IS NOT NULL;
CREATE INDEX standings_by_coat ON standings (coated_at, screen) WHERE standing = 'coated';
CREATE INDEX standings_fit ON standings (standing, count_per_cm, thread_um, frame, minimum_n_per_cm, screen);
CREATE INDEX standings_kept ON standings (screen, mesh, count_per_cm) WHERE standing = 'kept';
CREATE INDEX standings_keep_until ON standings (standing, json_extract(life, '$.keep_until'))
    WHERE standing = 'kept' AND json_extract(life, '$.keep_until') > '';
CREATE INDEX standings_coated_from ON standings (json_extract(life, '$.stencil.bucket')) WHERE standing = 'coated';
CREATE INDEX standings_torn_log ON standings (screen) WHERE conflict = 1;
CREATE INDEX standings_missing ON standings (screen) WHERE json_extract(life, '$.not_at') IS NOT NULL;
CREATE INDEX carries_by_separation ON carries (separation, screen);
CREATE INDEX washouts_by_time ON washouts (at, exposure_unit, emulsion, count_per_cm, result, fault);
CREATE INDEX washouts_read ON washouts (exposure_unit, at, step_held) WHERE step_held IS NOT NULL;
CREATE INDEX washouts_metered ON washouts (exposure_unit, at) WHERE irradiance_mw_cm2 IS NOT NULL;
CREATE INDEX checks_by_time ON checks (at, exposure_unit, emulsion, count_per_cm, result, fault);
CREATE INDEX exposures_by_unit ON exposures (exposure_unit, at, burnt_ms);
CREATE INDEX meshes_by_count ON meshes (count_per_cm, frame, uses, ended_at, cause);
CREATE INDEX meshes_in_service ON meshes (uses, frame, count_per_cm) WHERE ended_at = '';
CREATE INDEX stays_ended ON stays (standing, until, hours) WHERE until <> '';
CREATE INDEX stencils_ready ON stencils (ready_at) WHERE ready_at <> '';
CREATE INDEX stencils_washed ON stencils (washed_at, missed, faults) WHERE washed_at <> '';
CREATE INDEX coats_by_bucket ON coats (bucket, at, screen, stencil);
CREATE INDEX hangings_by_run ON hangings (run, station, screen);
CREATE INDEX upsets_by_time ON upsets (at, run, step, cause, minutes, good, misprinted);
CREATE INDEX ink_lots_by_bucket ON ink_lots (bucket) WHERE bucket <> '';
CREATE INDEX ink_lots_by_lot ON ink_lots (lot) WHERE lot <> '';
CREATE INDEX spec_by_key ON spec (key, id);
CREATE INDEX printed_by_code ON printed (code, id);
CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'entries: rows are never changed'); END;
CREATE TRIGGER entries_no_delete BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'entries: rows are never changed'); END;
CREATE TRIGGER spec_no_update BEFORE UPDATE ON spec BEGIN SELECT RAISE(ABORT, 'spec: rows are never changed'); END;
CREATE TRIGGER spec_no_delete BEFORE DELETE ON spec BEGIN SELECT RAISE(ABORT, 'spec: rows are never changed'); END;
CREATE TRIGGER settings_no_update BEFORE UPDATE ON settings BEGIN SELECT RAISE(ABORT, 'settings: rows are never changed'); END;
CREATE TRIGGER settings_no_delete BEFORE DELETE ON settings BEGIN SELECT RAISE(ABORT, 'settings: rows are never changed'); END;
CREATE TRIGGER job_versions_no_update BEFORE UPDATE ON job_versions BEGIN SELECT RAISE(ABORT, 'job_versions: rows are never changed'); END;
CREATE TRIGGER job_versions_no_delete BEFORE DELETE ON job_versions BEGIN SELECT RAISE(ABORT, 'job_versions: rows are never changed'); END;
CREATE TRIGGER printed_no_update BEFORE UPDATE ON printed BEGIN SELECT RAISE(ABORT, 'printed: rows are never changed'); END;
CREATE TRIGGER printed_no_delete BEFORE DELETE ON printed BEGIN SELECT RAISE(ABORT, 'printed: rows are never changed'); END;
CREATE TRIGGER lamp_changes_no_update BEFORE UPDATE ON lamp_changes BEGIN SELECT RAISE(ABORT, 'lamp_changes: rows are never changed'); END;
CREATE TRIGGER lamp_changes_no_delete BEFORE DELETE ON lamp_changes BEGIN SELECT RAISE(ABORT, 'lamp_changes: rows are never changed'); END;
CREATE TRIGGER pictures_no_update BEFORE UPDATE ON pictures BEGIN SELECT RAISE(ABORT, 'pictures: rows are never changed'); END;
CREATE TRIGGER pictures_no_delete BEFORE DELETE ON pictures BEGIN SELECT RAISE(ABORT, 'pictures: rows are never changed'); END;
CREATE TRIGGER job_pictures_no_update BEFORE UPDATE ON job_pictures BEGIN SELECT RAISE(ABORT, 'job_pictures: rows are never changed'); END;
CREATE TRIGGER job_pictures_no_delete BEFORE DELETE ON job_pictures BEGIN SELECT RAISE(ABORT, 'job_pictures: rows are never changed'); END;
CREATE INDEX changes_by_thing ON changes (thing, number, id);
CREATE INDEX changes_counted ON changes (number, at) WHERE thing = 'place' AND what = 'counted';
CREATE TRIGGER changes_no_update BEFORE UPDATE ON changes BEGIN SELECT RAISE(ABORT, 'changes: rows are never changed'); END;
CREATE TRIGGER changes_no_delete BEFORE DELETE ON changes BEGIN SELECT RAISE(ABORT, 'changes: rows are never changed'); END;
CREATE INDEX standings_since ON standings (standing, since);
CREATE INDEX standings_by_tension ON standings (tension_at, standing, stencils_since, screen);
CREATE INDEX meshes_by_number ON meshes (screen, number, thread_um);
CREATE INDEX stencils_begun ON stencils (begun_at, screen, mesh, count_per_cm, mesh_label);
CREATE INDEX stencils_ended ON stencils (ended_at, screen, mesh, count_per_cm, mesh_label, turnaround_h) WHERE ended_at <> '';
COMMIT;
