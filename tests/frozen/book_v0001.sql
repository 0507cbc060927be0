BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0001');
CREATE TABLE coupon (
	seq INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	id VARCHAR(40) NOT NULL, 
	number INTEGER NOT NULL, 
	replaces VARCHAR(40), 
	written_at VARCHAR(40) NOT NULL, 
	date VARCHAR(10) NOT NULL, 
	tip TEXT NOT NULL, 
	metal TEXT NOT NULL, 
	thickness_mm FLOAT NOT NULL, 
	current_a FLOAT NOT NULL, 
	bench TEXT NOT NULL, 
	starts INTEGER, 
	arc_min FLOAT, 
	supply_kpa_g FLOAT, 
	crater_mm FLOAT, 
	disc_asked_mm FLOAT, 
	disc_got_mm FLOAT, 
	hole_asked_mm FLOAT, 
	hole_got_mm FLOAT, 
	gouge_width_mm FLOAT, 
	gouge_depth_mm FLOAT, 
	gouge_pace_mm_s FLOAT, 
	note TEXT NOT NULL, 
	CONSTRAINT coupon_of_day UNIQUE (date, number), 
	UNIQUE (id), 
	UNIQUE (replaces), 
	FOREIGN KEY(replaces) REFERENCES coupon (id)
);
INSERT INTO "coupon" VALUES(1,'c-2026-03-02-01',1,NULL,'2026-03-01T08:01:00.000001+00:00','2026-03-02','65 A','steel',9.525,65.0,'slipway cradle',40,12.5,620.5281,7.3,80.0,78.1,80.0,82.2,7.9,3.2,10.6,'breeze from
the "door"');
INSERT INTO "coupon" VALUES(2,'c-2026-03-02-02',2,'c-2026-03-02-01','2026-03-01T08:05:00.000001+00:00','2026-03-02','65 A','steel',9.525,65.0,'slipway cradle',40,12.5,620.5281,7.3,80.0,78.1,80.0,82.2,7.9,3.2,10.6,'corrected');
INSERT INTO "coupon" VALUES(3,'c-2026-03-02-03',3,NULL,'2026-03-01T08:06:00.000001+00:00','2026-03-02','45 A','aluminium',6.35,45.0,'',NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'');
INSERT INTO "coupon" VALUES(4,'c-2026-03-03-01',1,NULL,'2026-03-01T08:08:00.000001+00:00','2026-03-03','45 A','stainless',3.0,40.0,'',NULL,NULL,NULL,3.0,NULL,NULL,NULL,NULL,NULL,NULL,NULL,'');
CREATE TABLE coupon_aside (
	seq INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	coupon VARCHAR(40) NOT NULL, 
	field VARCHAR(60) NOT NULL, 
	aside BOOLEAN NOT NULL, 
	why TEXT NOT NULL, 
	written_at VARCHAR(40) NOT NULL, 
	FOREIGN KEY(coupon) REFERENCES coupon (id)
);
INSERT INTO "coupon_aside" VALUES(1,'c-2026-03-02-01','cuts[1].kerf_top_mm',1,'misread','2026-03-01T08:02:00.000001+00:00');
INSERT INTO "coupon_aside" VALUES(2,'c-2026-03-02-01','crater_mm',1,'','2026-03-01T08:03:00.000001+00:00');
INSERT INTO "coupon_aside" VALUES(3,'c-2026-03-02-01','crater_mm',0,'it was right','2026-03-01T08:04:00.000001+00:00');
INSERT INTO "coupon_aside" VALUES(4,'c-2026-03-02-02','cuts[1].kerf_top_mm',1,'','2026-03-01T08:05:00.000001+00:00');
CREATE TABLE coupon_cut (
	coupon VARCHAR(40) NOT NULL, 
	number INTEGER NOT NULL, 
	length_mm FLOAT, 
	seconds FLOAT, 
	through BOOLEAN, 
	kerf_top_mm FLOAT, 
	kerf_bottom_mm FLOAT, 
	guide_near_mm FLOAT, 
	guide_far_mm FLOAT, 
	gap_right_mm FLOAT, 
	gap_left_mm FLOAT, 
	lag_mm FLOAT, 
	dross VARCHAR(10), 
	dross_height_mm FLOAT, 
	PRIMARY KEY (coupon, number), 
	FOREIGN KEY(coupon) REFERENCES coupon (id)
);
INSERT INTO "coupon_cut" VALUES('c-2026-03-02-01',1,152.4,16.0,1,2.159,1.6,10.16,12.192,0.254,0.762,1.5875,'slow',0.8);
INSERT INTO "coupon_cut" VALUES('c-2026-03-02-01',2,NULL,9.0,0,5.08,NULL,NULL,NULL,NULL,NULL,NULL,'none',NULL);
INSERT INTO "coupon_cut" VALUES('c-2026-03-02-02',1,152.4,16.0,1,2.159,1.6,10.16,12.192,0.254,0.762,1.5875,'slow',0.8);
INSERT INTO "coupon_cut" VALUES('c-2026-03-02-02',2,NULL,10.0,NULL,5.08,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
INSERT INTO "coupon_cut" VALUES('c-2026-03-02-03',1,NULL,NULL,NULL,1.8,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL);
CREATE TABLE coupon_mark (
	seq INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, 
	coupon VARCHAR(40) NOT NULL, 
	removed BOOLEAN NOT NULL, 
	why TEXT NOT NULL, 
	written_at VARCHAR(40) NOT NULL, 
	FOREIGN KEY(coupon) REFERENCES coupon (id)
);
INSERT INTO "coupon_mark" VALUES(1,'c-2026-03-02-03',1,'another bench','2026-03-01T08:07:00.000001+00:00');
INSERT INTO "coupon_mark" VALUES(2,'c-2026-03-03-01',1,'','2026-03-01T08:09:00.000001+00:00');
INSERT INTO "coupon_mark" VALUES(3,'c-2026-03-03-01',0,'it was ours','2026-03-02T08:10:00.000001+00:00');
CREATE INDEX ix_coupon_aside_coupon ON coupon_aside (coupon);
CREATE INDEX ix_coupon_mark_coupon ON coupon_mark (coupon);
CREATE TRIGGER coupon_no_update BEFORE UPDATE ON coupon BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END;
CREATE TRIGGER coupon_no_delete BEFORE DELETE ON coupon BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END;
CREATE TRIGGER coupon_cut_no_update BEFORE UPDATE ON coupon_cut BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END;
CREATE TRIGGER coupon_cut_no_delete BEFORE DELETE ON coupon_cut BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END;
CREATE TRIGGER coupon_aside_no_update BEFORE UPDATE ON coupon_aside BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END;
CREATE TRIGGER coupon_aside_no_delete BEFORE DELETE ON coupon_aside BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END;
CREATE TRIGGER coupon_mark_no_update BEFORE UPDATE ON coupon_mark BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END;
CREATE TRIGGER coupon_mark_no_delete BEFORE DELETE ON coupon_mark BEGIN SELECT RAISE(ABORT, 'the book is only added to'); END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('coupon',4);
INSERT INTO "sqlite_sequence" VALUES('coupon_aside',4);
INSERT INTO "sqlite_sequence" VALUES('coupon_mark',3);
COMMIT;
