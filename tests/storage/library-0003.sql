-- A library as the tables of revision 0003 held it; a test opens it with today's version.
PRAGMA foreign_keys = OFF;
BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0003');
CREATE TABLE box (
	unit_id INTEGER NOT NULL, 
	copy TEXT NOT NULL, 
	slot TEXT NOT NULL, 
	body TEXT NOT NULL, 
	revision INTEGER NOT NULL, 
	at TEXT NOT NULL, 
	CONSTRAINT pk_box PRIMARY KEY (unit_id, copy, slot), 
	CONSTRAINT fk_box_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id) ON DELETE CASCADE
)
 WITHOUT ROWID

;
INSERT INTO "box" VALUES(1,'first','2B','{"name": "", "stores": {}, "variants": {}}',1,'2026-11-25');
CREATE TABLE gig (
	id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	fold TEXT NOT NULL, 
	rig_id INTEGER, 
	house_id INTEGER, 
	revision INTEGER NOT NULL, 
	body TEXT NOT NULL, 
	file TEXT, 
	source TEXT, 
	CONSTRAINT pk_gig PRIMARY KEY (id), 
	CONSTRAINT uq_gig_fold UNIQUE (fold), 
	CONSTRAINT fk_gig_rig_id FOREIGN KEY(rig_id) REFERENCES rig (id) ON DELETE RESTRICT, 
	CONSTRAINT fk_gig_house_id FOREIGN KEY(house_id) REFERENCES song (id) ON DELETE RESTRICT
);
INSERT INTO "gig" VALUES(1,'Pier, 1 May','pier, 1 may',1,2,1,'{"date":"2027-05-01","place":"the old pier","gap":"15 s","notes":"One socket.","sets":[{"name":"one","interval":"20 min"},{"name":"none yet"}]}',NULL,NULL);
CREATE TABLE gig_entry (
	gig_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	song_id INTEGER NOT NULL, 
	set_index INTEGER, 
	body TEXT NOT NULL, 
	CONSTRAINT pk_gig_entry PRIMARY KEY (gig_id, position), 
	CONSTRAINT fk_gig_entry_gig_id FOREIGN KEY(gig_id) REFERENCES gig (id) ON DELETE CASCADE, 
	CONSTRAINT fk_gig_entry_song_id FOREIGN KEY(song_id) REFERENCES song (id) ON DELETE RESTRICT
)
 WITHOUT ROWID

;
INSERT INTO "gig_entry" VALUES(1,0,1,0,'{"key":"G","tempo":100.0,"form":[{"scene":"verse"}],"notes":"short","gap":"20 s"}');
INSERT INTO "gig_entry" VALUES(1,1,1,0,'{"segue":true}');
INSERT INTO "gig_entry" VALUES(1,2,1,NULL,'{"tempo":60.0}');
INSERT INTO "gig_entry" VALUES(1,3,2,NULL,'{}');
CREATE TABLE gig_unit (
	gig_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	unit_id INTEGER NOT NULL, 
	by_id INTEGER, 
	CONSTRAINT pk_gig_unit PRIMARY KEY (gig_id, position), 
	CONSTRAINT fk_gig_unit_gig_id FOREIGN KEY(gig_id) REFERENCES gig (id) ON DELETE CASCADE, 
	CONSTRAINT fk_gig_unit_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id) ON DELETE RESTRICT, 
	CONSTRAINT fk_gig_unit_by_id FOREIGN KEY(by_id) REFERENCES unit (id) ON DELETE RESTRICT
)
 WITHOUT ROWID

;
INSERT INTO "gig_unit" VALUES(1,0,2,NULL);
INSERT INTO "gig_unit" VALUES(1,1,2,3);
CREATE TABLE history (
	revision INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	at TEXT NOT NULL, 
	what TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	name TEXT NOT NULL, 
	"before" TEXT, 
	source TEXT, 
	CONSTRAINT pk_history PRIMARY KEY (revision, position)
)
 WITHOUT ROWID

;
INSERT INTO "history" VALUES(1,0,'2026-11-25T14:46:17+00:00','import','unit','Mehrfach, groß',NULL,NULL);
INSERT INTO "history" VALUES(1,1,'2026-11-25T14:46:17+00:00','import','unit','fuzz',NULL,NULL);
INSERT INTO "history" VALUES(1,2,'2026-11-25T14:46:17+00:00','import','unit','spare fuzz',NULL,NULL);
INSERT INTO "history" VALUES(1,3,'2026-11-25T14:46:17+00:00','import','rig','hall',NULL,NULL);
INSERT INTO "history" VALUES(1,4,'2026-11-25T14:46:17+00:00','import','song','Harbour',NULL,NULL);
INSERT INTO "history" VALUES(1,5,'2026-11-25T14:46:17+00:00','import','song','House',NULL,NULL);
INSERT INTO "history" VALUES(1,6,'2026-11-25T14:46:17+00:00','import','gig','Pier, 1 May',NULL,NULL);
INSERT INTO "history" VALUES(1,7,'2026-11-25T14:46:17+00:00','import','settings','settings','{}',NULL);
CREATE TABLE library (
	id INTEGER NOT NULL, 
	revision INTEGER NOT NULL, 
	settings TEXT NOT NULL, 
	source TEXT, 
	CONSTRAINT pk_library PRIMARY KEY (id)
);
INSERT INTO "library" VALUES(1,1,'{"tuning":442.5,"press_ms":650.0,"turn_ms":2400.5,"pedal_ms":900.0,"instrument_ms":15000.0}',NULL);
CREATE TABLE rig (
	id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	fold TEXT NOT NULL, 
	revision INTEGER NOT NULL, 
	body TEXT NOT NULL, 
	file TEXT, 
	source TEXT, 
	CONSTRAINT pk_rig PRIMARY KEY (id), 
	CONSTRAINT uq_rig_fold UNIQUE (fold)
);
INSERT INTO "rig" VALUES(1,'hall','hall',1,'{"chain":["Mehrfach, groß",{"parallel":[["fuzz"],[]]}],"units":{"Mehrfach, groß":{"port":"front","channel":2,"hears":"omni"},"fuzz":{"port":"front","channel":3,"hears":[3,4]}},"loops":{"Mehrfach, groß":{"loop":["fuzz"]}},"sends":{"fuzz":{"fat":[]}},"home":{"fuzz":{"main":"on","gain":"2 o''clock"},"Mehrfach, groß":{"preset":"2B","variant":"louder"}},"stand_ins":[{"part":"spare fuzz","part_switch":"main","by":"fuzz","switch":"fat","likeness":0.7,"controls":{"gain":"gain"}},{"part":"fuzz","part_preset":"3","by":"Mehrfach, groß","preset":"2B"}],"leads":[{"port":"front","to":"Mehrfach, groß"},{"thru":"Mehrfach, groß","to":"fuzz"}],"notes":"Tape the floor."}',NULL,NULL);
CREATE TABLE rig_unit (
	rig_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	unit_id INTEGER NOT NULL, 
	carried BOOLEAN NOT NULL, 
	CONSTRAINT pk_rig_unit PRIMARY KEY (rig_id, position), 
	CONSTRAINT fk_rig_unit_rig_id FOREIGN KEY(rig_id) REFERENCES rig (id) ON DELETE CASCADE, 
	CONSTRAINT fk_rig_unit_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id) ON DELETE RESTRICT
)
 WITHOUT ROWID

;
INSERT INTO "rig_unit" VALUES(1,0,1,1);
INSERT INTO "rig_unit" VALUES(1,1,2,1);
INSERT INTO "rig_unit" VALUES(1,2,3,0);
CREATE TABLE scene (
	id INTEGER NOT NULL, 
	song_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	body TEXT NOT NULL, 
	CONSTRAINT pk_scene PRIMARY KEY (id), 
	CONSTRAINT fk_scene_song_id FOREIGN KEY(song_id) REFERENCES song (id) ON DELETE CASCADE, 
	CONSTRAINT uq_scene_song_id UNIQUE (song_id, position)
);
INSERT INTO "scene" VALUES(1,1,0,'verse','{}');
INSERT INTO "scene" VALUES(2,1,1,'12:30','{"colours":["fuzz.gain"],"triggers":["Mehrfach, groß.hit"],"instrument":{"name":"mandola"},"notes":"loud"}');
INSERT INTO "scene" VALUES(3,2,0,'clean','{}');
CREATE TABLE scene_unit (
	scene_id INTEGER NOT NULL, 
	position INTEGER NOT NULL, 
	unit_id INTEGER NOT NULL, 
	setting TEXT, 
	CONSTRAINT pk_scene_unit PRIMARY KEY (scene_id, position), 
	CONSTRAINT fk_scene_unit_scene_id FOREIGN KEY(scene_id) REFERENCES scene (id) ON DELETE CASCADE, 
	CONSTRAINT fk_scene_unit_unit_id FOREIGN KEY(unit_id) REFERENCES unit (id) ON DELETE RESTRICT
)
 WITHOUT ROWID

;
INSERT INTO "scene_unit" VALUES(1,0,2,'{"main":"off"}');
INSERT INTO "scene_unit" VALUES(2,0,1,'{"preset":"2B","variant":"louder","time":"1/8."}');
INSERT INTO "scene_unit" VALUES(2,1,2,'{"main":"on","gain":"leave"}');
INSERT INTO "scene_unit" VALUES(2,2,3,'{"leave":"unit"}');
CREATE TABLE song (
	id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	fold TEXT NOT NULL, 
	revision INTEGER NOT NULL, 
	body TEXT NOT NULL, 
	file TEXT, 
	source TEXT, 
	CONSTRAINT pk_song PRIMARY KEY (id), 
	CONSTRAINT uq_song_fold UNIQUE (fold)
);
INSERT INTO "song" VALUES(1,'Harbour','harbour',1,'{"tempo":92.5,"metre":"7/8","key":"F# minor","length":"3:40","instrument":{"name":"viola","tuning":"C G D A","capo":2},"form":[{"scene":"verse"},{"scene":"12:30","bars":8.5,"free":2.0,"words":"on: the beat"}],"notes":"Ends on the one."}',NULL,NULL);
INSERT INTO "song" VALUES(2,'House','house',1,'{}',NULL,NULL);
CREATE TABLE unit (
	id INTEGER NOT NULL, 
	name TEXT NOT NULL, 
	fold TEXT NOT NULL, 
	revision INTEGER NOT NULL, 
	body TEXT NOT NULL, 
	file TEXT, 
	source TEXT, 
	CONSTRAINT pk_unit PRIMARY KEY (id), 
	CONSTRAINT uq_unit_fold UNIQUE (fold)
);
INSERT INTO "unit" VALUES(1,'Mehrfach, groß','mehrfach, gross',1,'{"roles":["fuzz","delay"],"switches":{"main":{"message":{"controller":20,"on":100,"off":1},"foot":true,"hand":true,"contact":"left jack"},"loop":{"message":{"note":60,"by_chart":true},"section":"delay"},"boost":{"message":{"on_bytes":"Bn 50 7F","off_bytes":"Bn 50 00"}},"tap":{"foot":true,"momentary":true},"flip":{"toggle":{"controller":21,"value":64,"by_chart":true}},"knock":{"toggle":{"note":61}},"push":{"toggle":{"bytes":"Bn 51 7F"}}},"controls":{"time":{"scale":"note value","message":{"controller":30,"range":["20 ms","1500 ms"],"by_chart":true},"hand":true,"pedal":true,"tolerance":"30 ms"},"mode":{"scale":"choice","choices":["on","12:30"],"message":{"controller":31,"values":{"on":0,"12:30":9}}}},"triggers":{"hit":{"note":38,"velocity":40,"foot":true},"stop":{"controller":40,"value":3,"by_chart":true},"go":{"bytes":"F0 7D 01 F7"}},"programs":{"count":300,"first":"1A","bank_of":3,"bank_select":"both","first_bank":5,"program_change":false,"foot":true,"hand":true,"settle_ms":90.5,"silence_ms":15.0,"tails":"cut","tail_ms":800.0,"repeat":"ignored"},"presets":[{"slot":"2B","name":"null","stores":{"main":"on","time":"380 ms"},"rest":"off","footswitches":{"A":"tap"},"pitches":["E1","Bb2"],"variants":{"louder":{"controller":50,"value":2,"foot":true,"by_chart":true,"stores":{"boost":"on"}},"softer":{"bytes":"Bn 52 00"}}}],"sections_at_once":2,"bypass_tails":"kept","boot_s":11.5,"size":{"width":200.0,"depth":130.5,"height":58.0},"jacks":["left","top"],"weight_g":1040.0,"supply":{"volts":"9-18","current":"AC","polarity":"centre positive","ma":400.0,"plug":"5.5 x 2.1 mm"},"input":"mono","output":"stereo","bypass":"relay","owned":false,"price":120.5,"notes":"Two lines:\n  the second # is no comment"}',NULL,NULL);
INSERT INTO "unit" VALUES(2,'fuzz','fuzz',1,'{"switches":{"main":{"foot":true},"fat":{"hand":true}},"controls":{"gain":{"scale":"clock","hand":false},"level":{"scale":"dB"}},"programs":{"count":8}}',NULL,NULL);
INSERT INTO "unit" VALUES(3,'spare fuzz','spare fuzz',1,'{"controls":{"gain":{"scale":"clock"}}}',NULL,NULL);
CREATE INDEX ix_rig_unit_unit_id ON rig_unit (unit_id);
CREATE INDEX ix_scene_unit_unit_id ON scene_unit (unit_id);
CREATE INDEX ix_gig_rig_id ON gig (rig_id);
CREATE INDEX ix_gig_house_id ON gig (house_id);
CREATE INDEX ix_gig_entry_song_id ON gig_entry (song_id);
CREATE INDEX ix_gig_unit_unit_id ON gig_unit (unit_id);
CREATE INDEX ix_gig_unit_by_id ON gig_unit (by_id);
CREATE INDEX ix_history_kind ON history (kind, name);
COMMIT;
PRAGMA application_id = 1558833920;
