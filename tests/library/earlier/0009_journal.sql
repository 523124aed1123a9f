PRAGMA application_id = 1246708302;
BEGIN;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
CREATE TABLE jobs (id TEXT PRIMARY KEY, opened_at TEXT NOT NULL);
CREATE TABLE heard (
            original TEXT NOT NULL REFERENCES originals(sha256),
            engine TEXT NOT NULL,
            model TEXT NOT NULL,
            model_sha256 TEXT NOT NULL,
            words TEXT NOT NULL, -- JSON
            text TEXT NOT NULL,
            duration_s REAL NOT NULL,
            made_at TEXT NOT NULL,
            PRIMARY KEY (original, engine, model, model_sha256)
        );
CREATE TABLE records (
            job TEXT PRIMARY KEY REFERENCES jobs(id),
            json TEXT NOT NULL, -- record.json, to the byte
            sha256 TEXT NOT NULL,
            saved_at TEXT NOT NULL
        );
CREATE TABLE facts (
            id INTEGER PRIMARY KEY,
            job TEXT NOT NULL REFERENCES jobs(id),
            fact TEXT NOT NULL, -- the fact's id within its job
            kind TEXT NOT NULL,
            status TEXT NOT NULL,
            quote TEXT NOT NULL,
            text TEXT NOT NULL, -- what the fact says, for searching
            note TEXT,
            start_s REAL,
            json TEXT NOT NULL,
            UNIQUE (job, fact)
        );
CREATE TABLE decisions (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            job TEXT NOT NULL REFERENCES jobs(id),
            fact TEXT NOT NULL,
            who TEXT NOT NULL CHECK (who <> ''),
            at TEXT NOT NULL,
            action TEXT NOT NULL CHECK (action IN ('accepted', 'edited', 'rejected', 'added', 'undone')),
            before TEXT, -- JSON of the fact as the person saw it
            after TEXT, -- JSON of the fact as the person left it
            undoes INTEGER REFERENCES decisions(id),
            CHECK ((action = 'undone') = (undoes IS NOT NULL)),
            CHECK ((action IN ('edited', 'added')) = (after IS NOT NULL)),
            CHECK ((action IN ('accepted', 'edited', 'rejected')) = (before IS NOT NULL))
        );
CREATE VIRTUAL TABLE "facts_fts" USING FTS5 (
    "quote", "text",
    tokenize='porter',
    content="facts"
);
CREATE TABLE "originals" (
            sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
            kind TEXT NOT NULL CHECK (kind IN ('recording', 'photo', 'details')),
            bytes INTEGER NOT NULL,
            file TEXT NOT NULL, -- the name it first came under
            kept_at TEXT NOT NULL
        );
CREATE TABLE "job_originals" (
            job TEXT NOT NULL REFERENCES jobs(id),
            original TEXT NOT NULL REFERENCES originals(sha256),
            kind TEXT NOT NULL CHECK (kind IN ('recording', 'photo', 'details')),
            file TEXT NOT NULL, -- the name it was last given under
            position INTEGER NOT NULL, -- its place among the files of its kind
            PRIMARY KEY (job, original)
        );
CREATE TABLE history (
            job TEXT PRIMARY KEY REFERENCES jobs(id),
            number TEXT,
            registration TEXT, -- as letters_and_digits compares it
            vin TEXT, -- likewise
            technician TEXT,
            odometer TEXT,
            odometer_unit TEXT,
            began_s REAL, -- POSIX time of the first note
            ended_at TEXT, -- ISO 8601, the end of the last note
            clock_from_s REAL, -- POSIX time of the first and the last clock statement
            clock_to_s REAL
        );
CREATE TABLE history_points (
            job TEXT NOT NULL REFERENCES jobs(id),
            position INTEGER NOT NULL,
            kind TEXT NOT NULL CHECK (kind IN ('code', 'cause', 'part')),
            name TEXT, -- code, component or part
            detail TEXT, -- the component's failure, the part's number
            PRIMARY KEY (job, position)
        ) WITHOUT ROWID
        ;
CREATE TABLE additions (
            job TEXT NOT NULL,
            original TEXT NOT NULL,
            who TEXT NOT NULL CHECK (who <> ''),
            at TEXT NOT NULL,
            PRIMARY KEY (job, original),
            FOREIGN KEY (job, original) REFERENCES job_originals(job, original)
        ) WITHOUT ROWID
        ;
CREATE TABLE stated (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            job TEXT NOT NULL REFERENCES jobs(id),
            key TEXT NOT NULL CHECK (key <> ''), -- as in job.toml, with its table before it
            who TEXT NOT NULL CHECK (who <> ''),
            at TEXT NOT NULL,
            action TEXT NOT NULL CHECK (action IN ('stated', 'withdrawn')),
            before TEXT, -- JSON of what counted when it was stated
            after TEXT, -- JSON of what was stated; NULL: that there is none
            file TEXT, -- JSON of what the office's file said then
            CHECK (action = 'stated' OR after IS NULL)
        );
CREATE TABLE seen (
            original TEXT NOT NULL REFERENCES originals(sha256),
            engine TEXT NOT NULL,
            model TEXT NOT NULL,
            model_sha256 TEXT NOT NULL,
            sight TEXT NOT NULL, -- JSON, as in record.json
            made_at TEXT NOT NULL,
            PRIMARY KEY (original, engine, model, model_sha256)
        ) WITHOUT ROWID
        ;
CREATE TABLE journal (
            number INTEGER PRIMARY KEY CHECK (number > 0),
            entry TEXT NOT NULL, -- canonical JSON
            sha256 TEXT NOT NULL CHECK (length(sha256) = 64), -- of its UTF-8 form
            kind TEXT GENERATED ALWAYS AS (json_extract(entry, '$.kind')) VIRTUAL,
            job TEXT GENERATED ALWAYS AS (json_extract(entry, '$.job')) VIRTUAL
        );
CREATE TABLE journal_salts (
            number INTEGER PRIMARY KEY REFERENCES journal(number),
            salt TEXT NOT NULL
        );
CREATE TABLE journal_signatures (
            number INTEGER NOT NULL REFERENCES journal(number),
            public_key TEXT NOT NULL, -- Ed25519, hexadecimal (RFC 8032)
            signature TEXT NOT NULL, -- hexadecimal
            PRIMARY KEY (number, public_key)
        ) WITHOUT ROWID
        ;
CREATE TABLE to_remove (original TEXT PRIMARY KEY) WITHOUT ROWID;
INSERT INTO "_sqlite_migrations" VALUES (1,'jobnotes','0001_originals_and_jobs','2026-11-30 01:14:24.405195+00:00');
INSERT INTO "_sqlite_migrations" VALUES (2,'jobnotes','0002_derived','2026-11-30 01:14:24.405709+00:00');
INSERT INTO "_sqlite_migrations" VALUES (3,'jobnotes','0003_decisions','2026-11-30 01:14:24.406174+00:00');
INSERT INTO "_sqlite_migrations" VALUES (4,'jobnotes','0004_search','2026-11-30 01:14:24.407946+00:00');
INSERT INTO "_sqlite_migrations" VALUES (5,'jobnotes','0005_details','2026-11-30 01:14:24.411908+00:00');
INSERT INTO "_sqlite_migrations" VALUES (6,'jobnotes','0006_history','2026-11-30 01:14:24.413168+00:00');
INSERT INTO "_sqlite_migrations" VALUES (7,'jobnotes','0007_by_hand','2026-11-30 01:14:24.413746+00:00');
INSERT INTO "_sqlite_migrations" VALUES (8,'jobnotes','0008_seen','2026-11-30 01:14:24.413998+00:00');
INSERT INTO "_sqlite_migrations" VALUES (9,'jobnotes','0009_journal','2026-11-30 01:14:24.415192+00:00');
INSERT INTO "jobs" VALUES ('J7bd971b0383c','2026-11-30T01:14:24.430905+00:00');
INSERT INTO "heard" VALUES ('7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','whisper','tiny.en','1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a','[{"confidence":0.98,"end_s":0.42,"start_s":0.1,"text":"battery"},{"confidence":0.9,"end_s":1.1,"start_s":0.5,"text":"12.6"}]','battery 12.6',0.1,'2026-11-30T01:14:24.431844+00:00');
INSERT INTO "records" VALUES ('J7bd971b0383c','{
 "format": "jobnotes-record",
 "version": 1,
 "job": {
  "number": "4711",
  "registration": "QQ 00 TST"
 },
 "notes": [
  {
   "id": "N1",
   "file": "one.wav",
   "sha256": "7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5",
   "started_at": "2031-04-07T09:30:00+00:00",
   "started_at_source": "file name",
   "duration_s": 0.1,
   "recogniser": {
    "engine": "whisper",
    "model": "tiny.en",
    "sha256": "1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a"
   },
   "text": "battery 12.6",
   "words": [
    {
     "text": "battery",
     "start_s": 0.1,
     "end_s": 0.42,
     "confidence": 0.98
    },
    {
     "text": "12.6",
     "start_s": 0.5,
     "end_s": 1.1,
     "confidence": 0.9
    }
   ]
  }
 ],
 "photos": [],
 "facts": [
  {
   "id": "F1",
   "kind": "measurement",
   "value": "12.6",
   "unit": "V",
   "quantity": "voltage",
   "subject": "battery",
   "conditions": [],
   "verdict": "no limit given",
   "quote": "battery at 12.6",
   "confidence": 0.9,
   "status": "sure",
   "note": "N1",
   "start_s": 0.1,
   "end_s": 1.1,
   "photos": [],
   "audience": "all"
  }
 ],
 "loose_ends": [],
 "claim_gaps": [],
 "supports": [],
 "earlier": [],
 "labour": [],
 "labour_remarks": [],
 "camera_clocks": [],
 "charges": [],
 "charge_remarks": [],
 "stated": [],
 "problems": []
}
','61101e235b3283b57baade444bb017532bd5da855e24f8d881a55736605a89da','2026-11-30T01:14:24.433426+00:00');
INSERT INTO "facts" VALUES (1,'J7bd971b0383c','F1','measurement','sure','battery at 12.6','12.6 V voltage battery no limit given 126','N1',0.1,'{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.6","verdict":"no limit given"}');
INSERT INTO "decisions" VALUES (1,'J7bd971b0383c','F1','Ann','2031-04-07T09:30:00+00:00','edited','{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.6","verdict":"no limit given"}','{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.4","verdict":"no limit given"}',NULL);
INSERT INTO "decisions" VALUES (2,'J7bd971b0383c','F1','Ann','2031-04-07T09:30:00+00:00','undone',NULL,NULL,1);
INSERT INTO "originals" VALUES ('7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','recording',3244,'one.wav','2026-11-30T01:14:24.428938+00:00');
INSERT INTO "originals" VALUES ('58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6','recording',3244,'two.wav','2026-11-30T01:14:24.439654+00:00');
INSERT INTO "job_originals" VALUES ('J7bd971b0383c','7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','recording','one.wav',0);
INSERT INTO "job_originals" VALUES ('J7bd971b0383c','58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6','recording','two.wav',0);
INSERT INTO "history" VALUES ('J7bd971b0383c','4711','qq00tst',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "additions" VALUES ('J7bd971b0383c','58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6','Cy','2026-11-30T01:14:24.445104+00:00');
INSERT INTO "stated" VALUES (1,'J7bd971b0383c','customer.name','Bea','2031-04-07T09:30:00+00:00','stated',NULL,'"Quayside Buses"',NULL);
INSERT INTO "seen" VALUES ('7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','whisper','tiny.en','1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a','{"flaws":[],"reader":{"engine":"whisper","model":"tiny.en","sha256":"1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a"},"texts":[]}','2026-11-30T01:14:24.447694+00:00');
INSERT INTO "journal" VALUES (1,'{"at":"2026-11-30T01:14:24.429131+00:00","kind":"original","number":1,"original":"7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5","previous":"0000000000000000000000000000000000000000000000000000000000000000","sealed":"39bceee73ee926efd0d2c7737f85f7b842ffb18091b7909158e03f911b5b147b"}','e7c6ebd48493b00082f1c8ab0b0f91bb02ecdbab1a9f00bbde721a219c815427');
INSERT INTO "journal" VALUES (2,'{"as":"recording","at":"2026-11-30T01:14:24.431203+00:00","job":"J7bd971b0383c","kind":"filed","number":2,"original":"7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5","previous":"e7c6ebd48493b00082f1c8ab0b0f91bb02ecdbab1a9f00bbde721a219c815427"}','96a228999f111ff12b642248d1998e66ebed5edf8fc996bae4120543f4828251');
INSERT INTO "journal" VALUES (3,'{"at":"2026-11-30T01:14:24.433792+00:00","job":"J7bd971b0383c","kind":"record","number":3,"previous":"96a228999f111ff12b642248d1998e66ebed5edf8fc996bae4120543f4828251","record":"61101e235b3283b57baade444bb017532bd5da855e24f8d881a55736605a89da"}','2bc2da5573ab971335ba7aec374fc9a24c37a6f7a151bd4368d069b7a25f2a35');
INSERT INTO "journal" VALUES (4,'{"at":"2026-11-30T01:14:24.436034+00:00","id":1,"job":"J7bd971b0383c","kind":"decision","number":4,"previous":"2bc2da5573ab971335ba7aec374fc9a24c37a6f7a151bd4368d069b7a25f2a35","sealed":"f27384eb8d099a94f05de52cce36783c782944c5511c50c233fb1b3dc1725e9d"}','583155be7f9150914852de62d60473fb6564838b8bcb3a815a64dbc1de49713f');
INSERT INTO "journal" VALUES (5,'{"at":"2026-11-30T01:14:24.436895+00:00","id":2,"job":"J7bd971b0383c","kind":"decision","number":5,"previous":"583155be7f9150914852de62d60473fb6564838b8bcb3a815a64dbc1de49713f","sealed":"ff4dace5d64ba6b584b8e48d2702b81719eb63ae2481f380a0eeabbd5e85597a"}','dcbc6e0d526c424e9c0e77d5760a4fc8784431d1b8fd7cc76aa18673560ed0b1');
INSERT INTO "journal" VALUES (6,'{"at":"2026-11-30T01:14:24.437490+00:00","id":1,"job":"J7bd971b0383c","kind":"statement","number":6,"previous":"dcbc6e0d526c424e9c0e77d5760a4fc8784431d1b8fd7cc76aa18673560ed0b1","sealed":"8b52e65cc53f751db8a14f7c75d218e91f556d9143aa87715b59b2dc673c3ed9"}','d6fa0f958e564085ddadbb48d13746ef2bbc7acab865cae782d3900d12d34677');
INSERT INTO "journal" VALUES (7,'{"at":"2026-11-30T01:14:24.439775+00:00","kind":"original","number":7,"original":"58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6","previous":"d6fa0f958e564085ddadbb48d13746ef2bbc7acab865cae782d3900d12d34677","sealed":"6c7b355510fc4a04421a0832b108cf64cf8e4a3a8758cd6d594b195d5d2d8e79"}','ef9cb0ed4021abdddf2617465701b632486c74954784a9431f4123c25c91288f');
INSERT INTO "journal" VALUES (8,'{"as":"recording","at":"2026-11-30T01:14:24.444997+00:00","job":"J7bd971b0383c","kind":"filed","number":8,"original":"58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6","previous":"ef9cb0ed4021abdddf2617465701b632486c74954784a9431f4123c25c91288f"}','b7c7e8f3cade2492faa5f9673c93fca98cdb24a44b94b890f49e3bf6d29309ec');
INSERT INTO "journal" VALUES (9,'{"at":"2026-11-30T01:14:24.445141+00:00","job":"J7bd971b0383c","kind":"added","number":9,"original":"58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6","previous":"b7c7e8f3cade2492faa5f9673c93fca98cdb24a44b94b890f49e3bf6d29309ec","sealed":"68261777fea0dd3d8f3ec79ce3e3bae777bc3d17cde8fc49bf4cbbeb935d7c8c"}','2b724ff8f51deab13084e356affc0e15b833ba722367b82f61aa3a69932543ac');
INSERT INTO "journal_salts" VALUES (1,'59b45188baa6cde751259399fb09ff5a');
INSERT INTO "journal_salts" VALUES (4,'c701d661f0270dc2321d17f19900e01f');
INSERT INTO "journal_salts" VALUES (5,'3b0ffccebed839ed09fc5bed3e557200');
INSERT INTO "journal_salts" VALUES (6,'1b58a522afa5f077f3e38061feadd824');
INSERT INTO "journal_salts" VALUES (7,'06c3460e42e1065fb0ef7f061af143af');
INSERT INTO "journal_salts" VALUES (9,'b8f7ee6cb7c119cea9624d6a3dc0e8d1');
INSERT INTO facts_fts (facts_fts) VALUES ('rebuild');
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX records_by_digest ON records (sha256);
CREATE INDEX decisions_by_job ON decisions (job, id);
CREATE TRIGGER decisions_no_update BEFORE UPDATE ON decisions
            BEGIN SELECT RAISE(ABORT, 'a decision is never changed'); END;
CREATE TRIGGER decisions_no_replace BEFORE INSERT ON decisions
        WHEN EXISTS (SELECT 1 FROM decisions WHERE id = NEW.id)
        BEGIN SELECT RAISE(ABORT, 'a decision is never changed'); END;
CREATE TRIGGER "facts_ai" AFTER INSERT ON "facts" BEGIN
  INSERT INTO "facts_fts" (rowid, "quote", "text") VALUES (new.rowid, new."quote", new."text");
END;
CREATE TRIGGER "facts_ad" AFTER DELETE ON "facts" BEGIN
  INSERT INTO "facts_fts" ("facts_fts", rowid, "quote", "text") VALUES('delete', old.rowid, old."quote", old."text");
END;
CREATE TRIGGER "facts_au" AFTER UPDATE ON "facts" BEGIN
  INSERT INTO "facts_fts" ("facts_fts", rowid, "quote", "text") VALUES('delete', old.rowid, old."quote", old."text");
  INSERT INTO "facts_fts" (rowid, "quote", "text") VALUES (new.rowid, new."quote", new."text");
END;
CREATE UNIQUE INDEX one_job_per_recording ON job_originals (original) WHERE kind = 'recording';
CREATE INDEX history_by_vin ON history (vin, began_s) WHERE vin IS NOT NULL;
CREATE INDEX history_by_registration ON history (registration, began_s) WHERE registration IS NOT NULL;
CREATE INDEX history_by_clock ON history (clock_to_s) WHERE clock_to_s IS NOT NULL;
CREATE INDEX stated_by_job ON stated (job, id);
CREATE TRIGGER stated_no_update BEFORE UPDATE ON stated
            BEGIN SELECT RAISE(ABORT, 'what was stated is never changed'); END;
CREATE TRIGGER stated_no_replace BEFORE INSERT ON stated
        WHEN EXISTS (SELECT 1 FROM stated WHERE id = NEW.id)
        BEGIN SELECT RAISE(ABORT, 'what was stated is never changed'); END;
CREATE INDEX journal_by_job ON journal (job, kind) WHERE job IS NOT NULL;
CREATE INDEX journal_by_kind ON journal (kind);
CREATE TRIGGER journal_no_update BEFORE UPDATE ON journal BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_no_delete BEFORE DELETE ON journal BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_signatures_no_update BEFORE UPDATE ON journal_signatures BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_signatures_no_delete BEFORE DELETE ON journal_signatures BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_salts_no_update BEFORE UPDATE ON journal_salts BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_salts_no_delete BEFORE DELETE ON journal_salts WHEN NOT EXISTS (SELECT 1 FROM journal, json_each(entry, '$.entries') AS gone WHERE kind = 'deletion' AND gone.value = OLD.number) BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_salts_no_replace BEFORE INSERT ON journal_salts WHEN EXISTS (SELECT 1 FROM journal_salts WHERE number = NEW.number) BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_signatures_no_replace BEFORE INSERT ON journal_signatures WHEN EXISTS (SELECT 1 FROM journal_signatures WHERE number = NEW.number AND public_key = NEW.public_key) BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER journal_in_order BEFORE INSERT ON journal WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM journal) OR json_extract(NEW.entry, '$.number') IS NOT NEW.number OR json_extract(NEW.entry, '$.previous') IS NOT coalesce((SELECT sha256 FROM journal ORDER BY number DESC LIMIT 1), '0000000000000000000000000000000000000000000000000000000000000000') BEGIN SELECT RAISE(ABORT, 'an entry of the journal follows the last one'); END;
CREATE TRIGGER decisions_no_delete BEFORE DELETE ON decisions WHEN NOT EXISTS (SELECT 1 FROM journal WHERE kind = 'deletion' AND job = OLD.job) BEGIN SELECT RAISE(ABORT, 'a decision is never changed'); END;
CREATE TRIGGER stated_no_delete BEFORE DELETE ON stated WHEN NOT EXISTS (SELECT 1 FROM journal WHERE kind = 'deletion' AND job = OLD.job) BEGIN SELECT RAISE(ABORT, 'what was stated is never changed'); END;
COMMIT;
