PRAGMA application_id = 1246708302;
BEGIN;
CREATE TABLE "_sqlite_migrations" (
   "id" INTEGER PRIMARY KEY,
   "migration_set" TEXT,
   "name" TEXT,
   "applied_at" TEXT
);
CREATE TABLE originals (
            sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
            kind TEXT NOT NULL CHECK (kind IN ('recording', 'photo')),
            bytes INTEGER NOT NULL,
            file TEXT NOT NULL, -- the name it first came under
            kept_at TEXT NOT NULL
        );
CREATE TABLE jobs (id TEXT PRIMARY KEY, opened_at TEXT NOT NULL);
CREATE TABLE job_originals (
            job TEXT NOT NULL REFERENCES jobs(id),
            original TEXT NOT NULL REFERENCES originals(sha256),
            kind TEXT NOT NULL CHECK (kind IN ('recording', 'photo')),
            file TEXT NOT NULL, -- the name it was last given under
            position INTEGER NOT NULL, -- its place among the files of its kind
            PRIMARY KEY (job, original)
        );
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
INSERT INTO "_sqlite_migrations" VALUES (1,'jobnotes','0001_originals_and_jobs','2026-11-29 17:43:05.377222+00:00');
INSERT INTO "_sqlite_migrations" VALUES (2,'jobnotes','0002_derived','2026-11-29 17:43:05.377869+00:00');
INSERT INTO "_sqlite_migrations" VALUES (3,'jobnotes','0003_decisions','2026-11-29 17:43:05.378578+00:00');
INSERT INTO "_sqlite_migrations" VALUES (4,'jobnotes','0004_search','2026-11-29 17:43:05.389638+00:00');
INSERT INTO "originals" VALUES ('7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','recording',3244,'one.wav','2026-11-29T17:43:05.480322+00:00');
INSERT INTO "jobs" VALUES ('J7bd971b0383c','2026-11-29T17:43:05.485103+00:00');
INSERT INTO "job_originals" VALUES ('J7bd971b0383c','7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','recording','one.wav',0);
INSERT INTO "heard" VALUES ('7bd971b0383c4ef2384e731e269c0963f481fd361a45ce436162562f4c94a7f5','whisper','tiny.en','1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a1a','[{"confidence":0.98,"end_s":0.42,"start_s":0.1,"text":"battery"},{"confidence":0.9,"end_s":1.1,"start_s":0.5,"text":"12.6"}]','battery 12.6',0.1,'2026-11-29T17:43:05.485940+00:00');
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
 "labour": [],
 "camera_clocks": [],
 "problems": []
}
','aabb333a4f7fc1287a1debc0851b20f85ae689277e9b5981e565cec4b289ef3b','2026-11-29T17:43:05.492732+00:00');
INSERT INTO "facts" VALUES (1,'J7bd971b0383c','F1','measurement','sure','battery at 12.6','12.6 V voltage battery no limit given 126','N1',0.1,'{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.6","verdict":"no limit given"}');
INSERT INTO "decisions" VALUES (1,'J7bd971b0383c','F1','Ann','2031-04-07T09:30:00+00:00','edited','{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.6","verdict":"no limit given"}','{"audience":"all","conditions":[],"confidence":0.9,"end_s":1.1,"id":"F1","kind":"measurement","note":"N1","photos":[],"quantity":"voltage","quote":"battery at 12.6","start_s":0.1,"status":"sure","subject":"battery","unit":"V","value":"12.4","verdict":"no limit given"}',NULL);
INSERT INTO "decisions" VALUES (2,'J7bd971b0383c','F1','Ann','2031-04-07T09:30:00+00:00','undone',NULL,NULL,1);
INSERT INTO facts_fts (facts_fts) VALUES ('rebuild');
CREATE UNIQUE INDEX "idx__sqlite_migrations_migration_set_name"
    ON "_sqlite_migrations" ("migration_set", "name");
CREATE UNIQUE INDEX one_job_per_recording ON job_originals (original) WHERE kind = 'recording';
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
COMMIT;
