BEGIN TRANSACTION;
CREATE TABLE contents (
	fingerprint TEXT NOT NULL, 
	content BLOB NOT NULL, 
	PRIMARY KEY (fingerprint)
);
INSERT INTO "contents" VALUES('f86a28d56a635d1e6692be00621daedce693981b2b86e48d86c5036af2d35e04',X'76656869636C652C70726963650A5465726E2C32303030300A4DC3B677652C31383030300A');
INSERT INTO "contents" VALUES('10b842676f6f4a5d8d89ae2083e330abfec1825d32be0282d421792fc21570ec',X'7B22666F726D6174223A312C2277656967687473223A5B302E312C31652D3330305D7D');
INSERT INTO "contents" VALUES('b94f56488bc525d328c719c020b0f92b83a80e18762492c156030ac22c2e21a5',X'7B2261735F6F66223A22323032352D30322D3031222C2263757272656E6379223A22455552222C22696E74657276616C223A7B22636F766572616765223A302E382C2268696768223A6E756C6C2C226C6F77223A353030302E317D2C226D656469616E223A363636362E3636363636363636363636377D');
INSERT INTO "contents" VALUES('b7ae36a1b4beebb003667590debafdd4a1ac2410533aad6ac8aa8fcb5a1e4bce',X'7B2262657374223A22647269766572227D');
CREATE TABLE deals (
	id INTEGER NOT NULL, 
	written_at TEXT NOT NULL, 
	corrects INTEGER, 
	reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	seal TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	plan_id INTEGER, 
	model_id INTEGER, 
	inputs TEXT NOT NULL, 
	result TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT deals_correct_an_older_one CHECK (corrects < id), 
	UNIQUE (corrects), 
	FOREIGN KEY(corrects) REFERENCES deals (id), 
	FOREIGN KEY(plan_id) REFERENCES plans (id), 
	FOREIGN KEY(model_id) REFERENCES models (id), 
	FOREIGN KEY(result) REFERENCES contents (fingerprint)
);
INSERT INTO "deals" VALUES(1,'2025-02-01T09:30:00+00:00',NULL,'',0,'a2e80e81952d2ee8832b3fff741fff500656935a59c016efcb5fbc15199052ce','Tern 1951 panel','paths',1,NULL,'{"seed":7}','b7ae36a1b4beebb003667590debafdd4a1ac2410533aad6ac8aa8fcb5a1e4bce');
CREATE TABLE estimates (
	id INTEGER NOT NULL, 
	written_at TEXT NOT NULL, 
	corrects INTEGER, 
	reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	seal TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	vehicle TEXT NOT NULL, 
	as_of DATE NOT NULL, 
	model_id INTEGER NOT NULL, 
	coverage DOUBLE NOT NULL, 
	currency TEXT NOT NULL, 
	median DOUBLE NOT NULL, 
	low DOUBLE, 
	high DOUBLE, 
	settings TEXT NOT NULL, 
	summary TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT estimates_correct_an_older_one CHECK (corrects < id), 
	UNIQUE (corrects), 
	FOREIGN KEY(corrects) REFERENCES estimates (id), 
	FOREIGN KEY(model_id) REFERENCES models (id), 
	FOREIGN KEY(summary) REFERENCES contents (fingerprint)
);
INSERT INTO "estimates" VALUES(1,'2025-02-01T09:30:00+00:00',NULL,'',0,'b82c3fafa674232b4fd453c2afcbc6def42ea834ca87e14c5934aeb2eb86b6d4','Tern 1951 panel','{"family":"Tern","model_year":1951}','2025-02-01',1,0.8,'EUR',6.66666666666666696966e+03,5000.1,NULL,'{}','b94f56488bc525d328c719c020b0f92b83a80e18762492c156030ac22c2e21a5');
CREATE TABLE ledger_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT ledger_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "ledger_version" VALUES('m0001_records');
CREATE TABLE models (
	id INTEGER NOT NULL, 
	written_at TEXT NOT NULL, 
	corrects INTEGER, 
	reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	seal TEXT NOT NULL, 
	table_id INTEGER NOT NULL, 
	fingerprint TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT models_correct_an_older_one CHECK (corrects < id), 
	UNIQUE (corrects), 
	FOREIGN KEY(corrects) REFERENCES models (id), 
	FOREIGN KEY(table_id) REFERENCES table_versions (id), 
	FOREIGN KEY(fingerprint) REFERENCES contents (fingerprint)
);
INSERT INTO "models" VALUES(1,'2025-02-01T09:30:00+00:00',NULL,'',0,'e6f579ba4725c0ff9da4767b13d9c83f754b8be23b65f9f402c542555d7c93f6',1,'10b842676f6f4a5d8d89ae2083e330abfec1825d32be0282d421792fc21570ec');
CREATE TABLE offers (
	id INTEGER NOT NULL, 
	written_at TEXT NOT NULL, 
	corrects INTEGER, 
	reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	seal TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	plan_id INTEGER, 
	estimate_id INTEGER, 
	amount DOUBLE NOT NULL, 
	currency TEXT NOT NULL, 
	offered_on DATE NOT NULL, 
	who TEXT NOT NULL, 
	answer TEXT NOT NULL, 
	counter DOUBLE, 
	remark TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT offers_correct_an_older_one CHECK (corrects < id), 
	UNIQUE (corrects), 
	FOREIGN KEY(corrects) REFERENCES offers (id), 
	FOREIGN KEY(plan_id) REFERENCES plans (id), 
	FOREIGN KEY(estimate_id) REFERENCES estimates (id)
);
INSERT INTO "offers" VALUES(1,'2025-02-01T09:30:00+00:00',NULL,'',0,'90fc096d6fd28d0287ffe1da4abfa06637c7ba0a737f8be1f2ea20d7d7c0fc9b','Tern 1951 panel',NULL,1,6000.0,'EUR','2025-02-01','the man with the hat','',NULL,'');
INSERT INTO "offers" VALUES(2,'2025-02-01T09:30:00+00:00',1,'answer given',0,'f65a4a99d85183f67c8f723c4673dc3e65df7fe92e2886d9df828daba21fb15b','Tern 1951 panel',NULL,1,6000.0,'EUR','2025-02-01','the man with the hat','counter',6900.5,'');
CREATE TABLE plans (
	id INTEGER NOT NULL, 
	written_at TEXT NOT NULL, 
	corrects INTEGER, 
	reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	seal TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	name TEXT NOT NULL, 
	text TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT plans_correct_an_older_one CHECK (corrects < id), 
	UNIQUE (corrects), 
	FOREIGN KEY(corrects) REFERENCES plans (id)
);
INSERT INTO "plans" VALUES(1,'2025-02-01T09:30:00+00:00',NULL,'',0,'818a5ff55373f097f3ddd35230ee159f99b4665850922d2cfcf0cd5d2b7daed7','Tern 1951 panel','driver','[shop]
labour = 60
');
CREATE TABLE sales (
	id INTEGER NOT NULL, 
	written_at TEXT NOT NULL, 
	corrects INTEGER, 
	reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	seal TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	estimate_id INTEGER NOT NULL, 
	price DOUBLE NOT NULL, 
	currency TEXT NOT NULL, 
	sold_on DATE NOT NULL, 
	kind TEXT NOT NULL, 
	arms_length BOOLEAN NOT NULL, 
	remark TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT sales_correct_an_older_one CHECK (corrects < id), 
	UNIQUE (corrects), 
	FOREIGN KEY(corrects) REFERENCES sales (id), 
	FOREIGN KEY(estimate_id) REFERENCES estimates (id)
);
INSERT INTO "sales" VALUES(1,'2025-02-01T09:30:00+00:00',NULL,'',0,'4057327a262901a433dffbe807e79e572c8015c793163ca50adfc74277dc9bf9','Tern 1951 panel',1,650.0,'EUR','2025-02-02','private',1,'');
INSERT INTO "sales" VALUES(2,'2025-02-01T09:30:00+00:00',1,'a digit was missing',0,'d358f1fc06fb711e1e2bb71d0ec1d73a265c1cc6caf04a13540bb26b90b62f74','Tern 1951 panel',1,6500.0,'EUR','2025-02-02','private',1,'');
CREATE TABLE sheets (
	id INTEGER NOT NULL, 
	written_at TEXT NOT NULL, 
	corrects INTEGER, 
	reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	seal TEXT NOT NULL, 
	kind TEXT NOT NULL, 
	subject TEXT NOT NULL, 
	estimate_id INTEGER, 
	deal_id INTEGER, 
	file_name TEXT NOT NULL, 
	fingerprint TEXT NOT NULL, 
	inputs TEXT NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT sheets_correct_an_older_one CHECK (corrects < id), 
	UNIQUE (corrects), 
	FOREIGN KEY(corrects) REFERENCES sheets (id), 
	FOREIGN KEY(estimate_id) REFERENCES estimates (id), 
	FOREIGN KEY(deal_id) REFERENCES deals (id)
);
INSERT INTO "sheets" VALUES(1,'2025-02-01T09:30:00+00:00',NULL,'',0,'68e90ee0ba496c22f5b028ed0c3d06725ee3580831775d585e4dac914ef85d4a','buyer','',1,NULL,'tern.pdf','0000000000000000000000000000000000000000000000000000000000000000','{"paper":"A4"}');
CREATE TABLE table_versions (
	id INTEGER NOT NULL, 
	written_at TEXT NOT NULL, 
	corrects INTEGER, 
	reason TEXT NOT NULL, 
	withdrawn BOOLEAN NOT NULL, 
	seal TEXT NOT NULL, 
	name TEXT NOT NULL, 
	version INTEGER NOT NULL, 
	schema TEXT NOT NULL, 
	source_name TEXT NOT NULL, 
	source TEXT NOT NULL, 
	fingerprint TEXT NOT NULL, 
	rows INTEGER NOT NULL, 
	faults INTEGER NOT NULL, 
	PRIMARY KEY (id), 
	CONSTRAINT table_versions_correct_an_older_one CHECK (corrects < id), 
	UNIQUE (corrects), 
	FOREIGN KEY(corrects) REFERENCES table_versions (id), 
	FOREIGN KEY(source) REFERENCES contents (fingerprint)
);
INSERT INTO "table_versions" VALUES(1,'2025-02-01T09:30:00+00:00',NULL,'',0,'3a833ef206f1a316148aabb032eab6f26d987eb82f4700887804ffac0bb83440','Terns and Wrens',1,'{"name":"vintage"}','sales.csv','f86a28d56a635d1e6692be00621daedce693981b2b86e48d86c5036af2d35e04','aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa',2,0);
CREATE INDEX estimates_by_subject ON estimates (subject);
CREATE INDEX plans_by_subject ON plans (subject);
CREATE INDEX deals_by_subject ON deals (subject);
CREATE INDEX offers_by_subject ON offers (subject);
CREATE INDEX sales_by_subject ON sales (subject);
COMMIT;
