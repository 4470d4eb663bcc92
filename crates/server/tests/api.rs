//! The API over a real socket, against a notebook in a file.
#![expect(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    reason = "a test: how soon a page hears of a change is asked"
)]

use notebook::{Id, Moment, Place};
use serde_json::{Value, json};
use server::{Settings, Workbench};
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;

/// A server with the demo, in a folder of its own.
struct House {
    address: String,
    dir: tempfile::TempDir,
    stop: Option<oneshot::Sender<()>>,
    done: Option<std::thread::JoinHandle<()>>,
}

fn house(lan: bool) -> House {
    let dir = tempfile::tempdir().unwrap();
    open(dir, lan)
}

fn open(dir: tempfile::TempDir, lan: bool) -> House {
    let (stop, stopped) = oneshot::channel::<()>();
    let (tell, told) = std::sync::mpsc::channel();
    let place = Place::File(dir.path().join("notebook.grigne"));
    let done = std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap();
        runtime.block_on(async {
            let settings = Settings { place, port: 0, lan, demo: true };
            let workbench = Workbench::open(&settings).await.unwrap();
            tell.send(workbench.address().unwrap()).unwrap();
            workbench
                .run(async {
                    let _ = stopped.await;
                })
                .await
                .unwrap();
        });
    });
    let address = told.recv().unwrap();
    House { address, dir, stop: Some(stop), done: Some(done) }
}

impl House {
    /// Stops as a server is stopped, and gives its folder back.
    fn close(mut self) -> tempfile::TempDir {
        self.stop.take().unwrap().send(()).unwrap();
        self.done.take().unwrap().join().unwrap();
        self.dir
    }
}

fn agent() -> ureq::Agent {
    ureq::Agent::config_builder().http_status_as_error(false).build().into()
}

impl House {
    fn ask(&self, method: &str, path: &str, body: Option<&Value>) -> (u16, Value) {
        let url = format!("{}api/{path}", self.address);
        let request = ureq::http::Request::builder().method(method).uri(url);
        let request =
            request.header("x-grigne-device", "test").header("content-type", "application/json");
        let text = body.map_or(String::new(), Value::to_string);
        let mut answer = agent().run(request.body(text).unwrap()).unwrap();
        let status = answer.status().as_u16();
        let bytes = answer.body_mut().read_to_vec().unwrap();
        let text = String::from_utf8_lossy(&bytes).into_owned(); // an export is no text
        (status, serde_json::from_str(&text).unwrap_or(Value::String(text)))
    }

    #[track_caller]
    fn get(&self, path: &str) -> Value {
        let (status, body) = self.ask("GET", path, None);
        assert_eq!(status, 200, "{path}: {body}");
        body
    }

    #[track_caller]
    fn put(&self, path: &str, body: &Value) -> i64 {
        let (status, body) = self.ask("PUT", path, Some(body));
        assert_eq!(status, 200, "{path}: {body}");
        body["revision"].as_i64().unwrap()
    }

    /// A request as it is, and the whole answer.
    fn raw(&self, text: &str) -> String {
        let at = self.address.trim_start_matches("http://").trim_end_matches('/');
        let mut socket = TcpStream::connect(at).unwrap();
        socket.write_all(text.as_bytes()).unwrap();
        if !text.contains("Connection: close") {
            socket.shutdown(std::net::Shutdown::Write).unwrap(); // cut off
        }
        let mut answer = String::new();
        let _ = socket.read_to_string(&mut answer);
        answer
    }
}

fn new_key() -> Id {
    static COUNT: AtomicU64 = AtomicU64::new(1);
    Id::new(Moment(1_795_000_000_000), u128::from(COUNT.fetch_add(1, Ordering::Relaxed)) << 8)
}

#[test]
fn a_recipe_is_kept_in_versions_told_when_wrong_and_undone() {
    let h = house(false);
    let state = h.get("notebook");
    assert_eq!((&state["has_demo"], &state["is_new"]), (&json!(true), &json!(false)));
    let all = h.get("recipes");
    assert_eq!(all["items"].as_array().unwrap().len(), 5);
    let id = all["items"][0]["id"].as_str().unwrap().to_owned();
    let one = h.get(&format!("recipes/{id}"));
    let text = one["version"]["text"].as_str().unwrap().to_owned();
    let body = json!({
        "parent": one["version"]["id"], "text": format!("{text}\n# mine\n"), "note": "a remark",
    });
    let version = format!("recipes/{id}/versions/{}", new_key());
    let revision = h.put(&version, &body);
    // sent twice by a phone that lost the answer: kept once
    assert_eq!(h.put(&version, &body), revision);
    assert_eq!(h.get(&format!("recipes/{id}"))["tree"].as_array().unwrap().len(), 2);
    // a text with a mistake: where, what, how to mend it; nothing kept
    let wrong = json!({ "text": text.replacen("title", "titel", 1), "note": "" });
    let (status, told) =
        h.ask("PUT", &format!("recipes/{id}/versions/{}", new_key()), Some(&wrong));
    assert_eq!(status, 422);
    let problems = told["problems"].as_array().unwrap();
    let line = text.lines().position(|l| l.starts_with("title")).unwrap() + 1;
    let placed = |p: &Value| p["line"] == line && p["column"] == 1;
    assert!(
        problems.iter().any(|p| placed(p)
            && (p["message"].as_str().unwrap().contains("titel")
                || p["field"].as_str().unwrap().contains("tit"))),
        "line {line}: {told}"
    );
    assert_eq!(h.get("notebook")["revision"].as_i64().unwrap(), revision);
    // undone, and done again
    let (status, _) = h.ask("POST", "undo", Some(&json!({})));
    assert_eq!(status, 200);
    assert_eq!(h.get(&format!("recipes/{id}"))["tree"].as_array().unwrap().len(), 1);
    assert_eq!(h.ask("POST", "redo", None).0, 200);
    assert_eq!(h.get(&format!("recipes/{id}"))["tree"].as_array().unwrap().len(), 2);
    // and it is there after a restart
    let again = open(h.close(), false);
    assert_eq!(again.get(&format!("recipes/{id}"))["tree"].as_array().unwrap().len(), 2);
}

#[test]
fn a_bake_is_begun_measured_judged_and_finished() {
    let h = house(false);
    let recipe = h.get("recipes")["items"][0]["current"].clone();
    let kitchen = h.get("kitchens")["items"][0]["current"].clone();
    let (bake, at) = (new_key(), 1_795_000_000_000_i64);
    let body = json!({
        "id": bake, "recipe_version": recipe, "kitchen_version": kitchen, "began": at,
        "zone": "Europe/London", "note": "",
    });
    h.put(&format!("bakes/{bake}"), &body);
    h.put(&format!("bakes/{bake}/did/{}", new_key()), &json!({ "step": 1, "at": at }));
    let id = new_key();
    let m = json!({
        "id": id, "bake": bake, "at": at + 60_000, "kind": "rise", "of": "dough", "value": 40.0,
        "error": 5.0, "words": "", "device": "phone",
    });
    let first = h.put(&format!("measurements/{id}"), &m);
    assert_eq!(h.put(&format!("measurements/{id}"), &m), first, "sent twice");
    let mut impossible = m.clone();
    impossible["id"] = json!(new_key());
    impossible["value"] = json!(9000.0);
    let path = format!("measurements/{}", impossible["id"].as_str().unwrap());
    let (status, told) = h.ask("PUT", &path, Some(&impossible));
    assert_eq!((status, told["field"].is_string()), (422, true), "{told}");
    let verdict =
        json!({ "at": at + 3_600_000, "crumb": "open", "crust": "golden", "note": "good" });
    assert_eq!(h.ask("POST", &format!("bakes/{bake}/finish"), Some(&verdict)).0, 200);
    let whole = h.get(&format!("bakes/{bake}"));
    assert_eq!(whole["bake"]["crumb"], "open");
    assert_eq!(whole["measured"][0]["value"], 40.0);
    // what happened is not edited any more, but noted upon
    let (status, told) = h.ask("POST", &format!("bakes/{bake}/judge"), Some(&json!({})));
    assert_eq!(status, 409, "{told}");
    // what a phone sends only now becomes a note
    let late = json!({ "step": 2, "at": at });
    h.put(&format!("bakes/{bake}/did/{}", new_key()), &late);
    let now = h.get(&format!("bakes/{bake}"));
    assert_eq!(now["did"], whole["did"]);
    assert_eq!(now["annotations"][0]["words"], "began step 2");
    let note = json!({ "at": at + 7_200_000, "words": "Better the next day." });
    h.put(&format!("bakes/{bake}/annotations/{}", new_key()), &note);
    let underway = h.get("bakes?underway=true");
    assert!(underway["items"].as_array().unwrap().iter().all(|b| b["bake"]["id"] != json!(bake)));
}

/// Two pages open: one hears of what the other writes within a second.
#[test]
fn open_pages_hear_of_changes() {
    let h = house(false);
    let at = h.address.trim_start_matches("http://").trim_end_matches('/').to_owned();
    let mut socket = TcpStream::connect(&at).unwrap();
    let since = h.get("notebook")["revision"].as_i64().unwrap();
    write!(socket, "GET /api/events?since={since} HTTP/1.1\r\nHost: {at}\r\n\r\n").unwrap();
    socket.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    let mut lines = BufReader::new(socket).lines();
    assert!(lines.next().unwrap().unwrap().contains("200"));
    let id = h.get("recipes")["items"][0]["id"].as_str().unwrap().to_owned();
    let written = Instant::now();
    assert_eq!(h.ask("POST", &format!("recipes/{id}/away"), Some(&json!({ "away": true }))).0, 200);
    let told = lines.find_map(|l| l.unwrap().strip_prefix("data: ").map(str::to_owned)).unwrap();
    assert!(written.elapsed() < Duration::from_secs(1));
    let told: Value = serde_json::from_str(&told).unwrap();
    assert_eq!(told["touched"][0]["entry"], "recipe");
    assert_eq!(told["touched"][0]["id"], json!(id));
    h.close(); // with a page still listening
}

#[test]
fn only_our_own_pages_write_and_only_under_our_own_name() {
    let h = house(false);
    let at = h.address.trim_start_matches("http://").trim_end_matches('/').to_owned();
    let post = |host: &str, origin: &str| {
        h.raw(&format!(
            "POST /api/demo/remove HTTP/1.1\r\nHost: {host}\r\n{origin}Content-Length: 0\r\nConnection: close\r\n\r\n"
        ))
    };
    assert!(post("rebound.example", "").starts_with("HTTP/1.1 421"));
    assert!(post(&at, "Origin: http://elsewhere.example\r\n").starts_with("HTTP/1.1 403"));
    assert!(post(&at, "Origin: null\r\n").starts_with("HTTP/1.1 403"));
    assert_eq!(h.get("notebook")["has_demo"], true);
    let own = post(&at, &format!("Origin: http://{at}\r\n"));
    assert!(own.starts_with("HTTP/1.1 200"), "{own}");
    assert_eq!(h.get("notebook")["has_demo"], false);
    let page = h.raw(&format!("GET / HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n"));
    assert!(page.starts_with("HTTP/1.1 200") && page.contains("default-src 'none'"), "{page}");
}

#[test]
fn a_photo_too_large_or_cut_off_leaves_nothing() {
    let h = house(false);
    let url = format!("{}api/photos", h.address);
    let before = h.get("notebook")["revision"].clone();
    let huge = vec![0_u8; 41 * 1024 * 1024];
    let mut answer =
        agent().post(&url).header("content-type", "image/jpeg").send(&huge[..]).unwrap();
    assert_eq!(answer.status(), 413);
    let told: Value = serde_json::from_str(&answer.body_mut().read_to_string().unwrap()).unwrap();
    assert!(told["detail"].as_str().unwrap().contains("40 MB"), "{told}");
    let at = h.address.trim_start_matches("http://").trim_end_matches('/').to_owned();
    h.raw(&format!(
        "POST /api/photos HTTP/1.1\r\nHost: {at}\r\nContent-Type: image/jpeg\r\nContent-Length: 90000\r\n\r\nonly this"
    ));
    let mut answer = agent().post(&url).send(&b"not a picture"[..]).unwrap();
    assert_eq!(answer.status(), 415);
    assert!(answer.body_mut().read_to_string().unwrap().contains("hint"));
    assert_eq!(h.get("notebook")["revision"], before);
    assert!(!h.dir.path().join("photos").exists());
    // a real one is kept and comes back
    let mut png = std::io::Cursor::new(Vec::new());
    image::RgbImage::new(8, 8).write_to(&mut png, image::ImageFormat::Png).unwrap();
    let mut answer = agent().post(&url).send(&png.into_inner()[..]).unwrap();
    let kept: Value = serde_json::from_str(&answer.body_mut().read_to_string().unwrap()).unwrap();
    let photo = format!("{}api/photos/{}", h.address, kept["hash"].as_str().unwrap());
    let mut seen = agent().get(&photo).call().unwrap();
    assert_eq!(seen.headers()["content-type"], "image/jpeg");
    assert!(seen.body_mut().read_to_vec().unwrap().starts_with(&[0xff, 0xd8]));
}

/// What the description says can be asked can be asked; with keys of nothing.
#[test]
fn every_route_that_is_described_is_there() {
    let h = house(false);
    let described = h.get("openapi.json");
    for (path, methods) in described["paths"].as_object().unwrap() {
        for method in methods.as_object().unwrap().keys() {
            if path == "/api/events" {
                continue; // does not end
            }
            let mut path = path.trim_start_matches("/api/").replace("{hash}", &"0".repeat(64));
            while let Some((a, b)) = path.split_once('{') {
                path = format!("{a}{}{}", new_key(), b.split_once('}').unwrap().1);
            }
            let (status, told) = h.ask(&method.to_uppercase(), &path, Some(&json!({})));
            assert_ne!(status, 405, "{method} {path}");
            let nowhere = told["detail"] == "there is nothing under this address";
            assert!(!nowhere || path.starts_with("photos/"), "{method} {path}: {told}");
        }
    }
}

/// Of two devices that began with the same version both stay, and the second is told.
#[test]
fn a_version_beside_a_newer_one_is_told() {
    let h = house(false);
    let id = h.get("recipes")["items"][0]["id"].as_str().unwrap().to_owned();
    let first = h.get(&format!("recipes/{id}"))["version"].clone();
    let version = |words: &str| {
        let text = format!("{}\n# {words}\n", first["text"].as_str().unwrap());
        json!({ "parent": first["id"], "text": text, "note": words })
    };
    let (one, two) = (new_key(), new_key());
    let keep = |key: Id, body: &Value| {
        let (status, told) = h.ask("PUT", &format!("recipes/{id}/versions/{key}"), Some(body));
        assert_eq!(status, 200, "{told}");
        told["beside"].clone()
    };
    assert_eq!(keep(one, &version("desk")), Value::Null);
    assert_eq!(keep(two, &version("phone")), json!(one.to_string()));
    let whole = h.get(&format!("recipes/{id}"));
    assert_eq!(whole["tree"].as_array().unwrap().len(), 3);
    assert_eq!(whole["recipe"]["current"], json!(two.to_string()));
    // sent again it is the one in use
    assert_eq!(keep(two, &version("phone")), Value::Null);
}

/// The engine answers as in the page and on the command line.
#[test]
fn questions_of_bread_are_answered() {
    let h = house(false);
    let version = h.get("recipes")["items"][0]["current"].as_str().unwrap().to_owned();
    let text = h.get(&format!("recipe-versions/{version}"))["text"].clone();
    let question = json!({ "ask": "formula", "recipe": text });
    let (status, answer) = h.ask("POST", "ask", Some(&question));
    assert_eq!((status, &answer), (200, &document::ask(&question)));
    assert_eq!(answer["verb"], "formula");
    // how far a long answer is comes over the events
    let at = h.address.trim_start_matches("http://").trim_end_matches('/').to_owned();
    let mut socket = TcpStream::connect(&at).unwrap();
    write!(socket, "GET /api/events HTTP/1.1\r\nHost: {at}\r\n\r\n").unwrap();
    socket.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    let mut lines = BufReader::new(socket).lines();
    assert!(lines.next().unwrap().unwrap().contains("200"));
    let plan = json!({
        "ask": "plan", "recipe": text, "now": "2026-11-26T18:00", "ready": "2026-11-28T18:00",
        "kitchens": 8,
    });
    let (status, answer) = h.ask("POST", "ask?progress=mine", Some(&plan));
    assert_eq!((status, &answer["verb"]), (200, &json!("plan")), "{answer}");
    let mut shares: Vec<f64> = Vec::new();
    for line in lines.by_ref() {
        let line = line.unwrap();
        let Some(told) = line.strip_prefix("data: ") else { continue };
        let told: Value = serde_json::from_str(told).unwrap();
        assert_eq!(told["key"], "mine");
        shares.push(told["share"].as_f64().unwrap());
        if shares.last() == Some(&1.0) {
            break;
        }
    }
    assert_eq!(shares.last(), Some(&1.0), "{shares:?}");
    assert!(shares.len() > 1 && shares.is_sorted(), "{shares:?}");
    // readers too are asked of a server
    let readers = json!({
        "ask": "travel", "recipe": text, "now": "2026-11-26T18:00", "readers": 512,
        "season": "warm", "sensitivity": 0,
    });
    let (_, answer) = h.ask("POST", "ask", Some(&readers));
    assert_eq!((&answer["verb"], &answer["readers"]), (&json!("travel"), &json!(512)), "{answer}");
    let (status, answer) = h.ask("POST", "ask", Some(&json!({ "ask": "nothing" })));
    assert_eq!(status, 200);
    assert!(answer["problem"]["detail"].is_string(), "{answer}");
}

/// The packed export, taken in elsewhere, is the same notebook.
#[test]
fn everything_can_be_taken_away() {
    let h = house(false);
    let mut answer = agent().get(format!("{}api/export", h.address)).call().unwrap();
    assert_eq!(answer.headers()["content-type"], "application/zip");
    let bytes = answer.body_mut().read_to_vec().unwrap();
    let mut zip = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let folder = tempfile::tempdir().unwrap();
    zip.extract(folder.path()).unwrap();
    let other = tempfile::tempdir().unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let recipes = runtime.block_on(async {
        let place = Place::File(other.path().join("notebook.grigne"));
        let notebook = notebook::Notebook::open(&place, Moment(0)).await.unwrap();
        let by = notebook::By { at: Moment(0), who: "test" };
        notebook.import(folder.path(), by).await.unwrap();
        let recipes = notebook.recipes(false, &notebook::Page::default()).await.unwrap();
        notebook.close().await;
        recipes.items.into_iter().map(|r| (r.id, r.title)).collect::<Vec<_>>()
    });
    let here: Vec<(Id, String)> = h.get("recipes")["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| (r["id"].as_str().unwrap().parse().unwrap(), r["title"].as_str().unwrap().into()))
        .collect();
    assert_eq!((recipes.len(), &recipes), (5, &here));
}

#[test]
fn the_clock_of_a_zone_tells_its_changes() {
    let h = house(false);
    let clock = h.get("clock?zone=Europe/London");
    assert_eq!(clock["now"].as_str().unwrap().len(), 19);
    for shift in clock["shifts"].as_array().unwrap() {
        assert!(shift[0].as_i64().unwrap() > 0);
    }
    assert_eq!(h.ask("GET", "clock?zone=Nowhere/At_All", None).0, 422);
}

/// Other devices need a code: it works once, and the session outlives a restart.
#[test]
fn the_house_pairs_with_a_code() {
    let h = house(true);
    let (status, told) = h.ask("POST", "pairing", None);
    assert_eq!(status, 200, "{told}");
    assert!(told["svg"].as_str().unwrap().contains("<svg"));
    let code = told["address"].as_str().unwrap().rsplit_once('/').unwrap().1.to_owned();
    let at = h.address.trim_start_matches("http://").trim_end_matches('/').to_owned();
    let pair =
        || h.raw(&format!("GET /pair/{code} HTTP/1.1\r\nHost: {at}\r\nConnection: close\r\n\r\n"));
    let paired = pair();
    assert!(
        paired.contains("set-cookie: grigne=") && paired.contains("SameSite=Strict"),
        "{paired}"
    );
    let again = pair();
    assert!(again.starts_with("HTTP/1.1 403") && again.contains("works no more"), "{again}");
    // opened in a browser it is a page, and what was asked for stays text in it
    let opened = |path: &str, host: &str| {
        h.raw(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nAccept: text/html\r\nConnection: close\r\n\r\n"
        ))
    };
    let page = opened(&format!("/pair/{code}"), &at);
    assert!(page.starts_with("HTTP/1.1 403") && page.contains("text/html"), "{page}");
    assert!(page.contains("<h1>This pairing code works no more</h1>"), "{page}");
    let elsewhere = opened("/", "<b>.example");
    assert!(elsewhere.starts_with("HTTP/1.1 421") && !elsewhere.contains("<b>"), "{elsewhere}");
    let alone = house(false);
    assert_eq!(alone.ask("POST", "pairing", None).0, 409);
}
