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
INSERT INTO "_sqlite_migrations" VALUES (1,'jobnotes','0001_originals_and_jobs','2026-11-29 17:43:09.266118+00:00');
INSERT INTO "_sqlite_migrations" VALUES (2,'jobnotes','0002_derived','2026-11-29 17:43:09.266809+00:00');
INSERT INTO "_sqlite_migrations" VALUES (3,'jobnotes','0003_decisions','2026-11-29 17:43:09.267569+00:00');
INSERT INTO "_sqlite_migrations" VALUES (4,'jobnotes','0004_search','2026-11-29 17:43:09.295032+00:00');
INSERT INTO "_sqlite_migrations" VALUES (5,'jobnotes','0005_details','2026-11-29 17:43:09.322858+00:00');
INSERT INTO "_sqlite_migrations" VALUES (6,'jobnotes','0006_history','2026-11-29 17:43:09.323691+00:00');
INSERT INTO "_sqlite_migrations" VALUES (7,'jobnotes','0007_by_hand','2026-11-29 17:43:09.329185+00:00');
INSERT INTO "jobs" VALUES ('J7bd971b0383c','2026-11-29T17:43:09.369477+00:00');
INSERT INTO "heard" VALUES ('7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','whisper','tiny.en','1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a','[{"confidence":0.98,"end_s":0.42,"start_s":0.1,"text":"battery"},{"confidence":0.9,"end_s":1.1,"start_s":0.5,"text":"12.6"}]','battery 12.6',0.1,'2026-11-29T17:43:09.372668+00:00');
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
','61101e235b3283b57baade444bb017532bd5da855e24f8d881a55736605a89da','2026-11-29T17:43:09.380778+00:00');
INSERT INTO "facts" VALUES (1,'J7bd971b0383c','F1','measurement','sure','battery at 12.6','12.6 V voltage battery no limit given 126','N1',0.1,'{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.6","verdict":"no limit given"}');
INSERT INTO "decisions" VALUES (1,'J7bd971b0383c','F1','Ann','2031-04-07T09:30:00+00:00','edited','{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.6","verdict":"no limit given"}','{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.4","verdict":"no limit given"}',NULL);
INSERT INTO "decisions" VALUES (2,'J7bd971b0383c','F1','Ann','2031-04-07T09:30:00+00:00','undone',NULL,NULL,1);
INSERT INTO "originals" VALUES ('7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','recording',3244,'one.wav','2026-11-29T17:43:09.342593+00:00');
INSERT INTO "originals" VALUES ('58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6','recording',3244,'two.wav','2026-11-29T17:43:09.456358+00:00');
INSERT INTO "job_originals" VALUES ('J7bd971b0383c','7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','recording','one.wav',0);
INSERT INTO "job_originals" VALUES ('J7bd971b0383c','58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6','recording','two.wav',0);
INSERT INTO "history" VALUES ('J7bd971b0383c','4711','qq00tst',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "additions" VALUES ('J7bd971b0383c','58d3ac90523c9d249777304e9068f93ae6a3921f5ff77209d5a0dbc7ce9a55e6','Cy','2026-11-29T17:43:09.463903+00:00');
INSERT INTO "stated" VALUES (1,'J7bd971b0383c','customer.name','Bea','2031-04-07T09:30:00+00:00','stated',NULL,'"Quayside Buses"',NULL);
INSERT INTO facts_fts (facts_fts) VALUES ('rebuild');
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE INDEX records_by_digest ON records (sha256);
CREATE INDEX decisions_by_job ON decisions (job, id);
CREATE TRIGGER decisions_no_update BEFORE UPDATE ON decisions
            BEGIN SELECT RAISE(ABORT, 'a decision is never changed'); END;
CREATE TRIGGER decisions_no_delete BEFORE DELETE ON decisions
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
CREATE TRIGGER stated_no_delete BEFORE DELETE ON stated
            BEGIN SELECT RAISE(ABORT, 'what was stated is never changed'); END;
CREATE TRIGGER stated_no_replace BEFORE INSERT ON stated
        WHEN EXISTS (SELECT 1 FROM stated WHERE id = NEW.id)
        BEGIN SELECT RAISE(ABORT, 'what was stated is never changed'); END;
COMMIT;
