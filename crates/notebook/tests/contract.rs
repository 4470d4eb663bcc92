//! What a notebook promises, on a file and on a server alike.
#![allow(missing_docs, clippy::unwrap_used)] // a test that cannot go on may say so

mod common;

use common::*;
use notebook::{
    Annotation, By, Crumb, Error, Kind, Moment, NewVersion, Notebook, Page, Plan, Verdict, Which,
};
use std::collections::BTreeSet;

/// Runs the promises one after another on fresh notebooks.
macro_rules! promises {
    ($($name:ident),* $(,)?) => {
        fn keep(ground: &Ground) {
            let runtime = tokio::runtime::Runtime::new().unwrap();
            $(
                eprintln!("promise: {}", stringify!($name));
                runtime.block_on($name(ground));
            )*
        }
    };
}

promises!(
    recipes_are_trees_of_versions,
    kitchens_are_kept_alike,
    lists_come_in_pages,
    anything_is_undone_and_redone,
    what_was_changed_since_is_not_undone,
    what_others_need_stays,
    cultures_are_fed,
    sent_twice_kept_once,
    a_finished_bake_is_annotated_never_edited,
    what_comes_late_becomes_a_note,
    a_past_bake_is_one_change,
    values_go_with_their_kind,
    plans_stay_as_accepted,
    a_plan_takes_the_place_of_another,
    pages_learn_what_changed,
    photos_are_kept_once,
    the_demo_comes_and_goes,
    the_demo_leaves_what_the_user_needs,
    a_folder_makes_the_same_notebook,
    two_writers_take_turns,
    a_backup_is_a_notebook,
);

#[test]
fn on_a_file() {
    keep(&Ground::files());
}

#[test]
fn on_a_server() {
    if let Some(ground) = Ground::server() {
        keep(&ground);
    }
}

async fn recipes_are_trees_of_versions(ground: &Ground) {
    let n = ground.notebook().await;
    let (recipe, first, second, branch) = (key(), key(), key(), key());
    n.keep_recipe(&version(first, recipe, None, RECIPE), ME).await.unwrap();
    // lossless: comments, odd spaces and line ends stay
    let wetter = format!("# wetter, for the new flour\r\n\n{}", RECIPE.replace("73 %", "75 %"));
    n.keep_recipe(&version(second, recipe, Some(first), &wetter), ME).await.unwrap();
    n.keep_recipe(&version(branch, recipe, Some(first), RECIPE), ME).await.unwrap();
    assert_eq!(n.recipe_version(second).await.unwrap().text, wetter);
    assert_eq!(n.recipe(recipe).await.unwrap().current, branch);
    let tree = n.recipe_versions(recipe).await.unwrap();
    let parents: Vec<_> = tree.iter().map(|v| (v.id, v.parent)).collect();
    assert_eq!(parents, [(first, None), (second, Some(first)), (branch, Some(first))]);
    n.use_recipe_version(second, ME).await.unwrap();
    assert_eq!(n.recipe(recipe).await.unwrap().current, second);
    let listed = n.recipes(false, &Page::default()).await.unwrap();
    assert_eq!(listed.items.len(), 1);
    assert_eq!(listed.items[0].title, "Tidewater batard");
    assert_eq!((listed.items[0].versions, listed.items[0].last_baked), (3, None));
    n.put_recipe_away(recipe, true, ME).await.unwrap();
    assert!(n.recipes(false, &Page::default()).await.unwrap().items.is_empty());
    assert_eq!(n.recipes(true, &Page::default()).await.unwrap().items.len(), 1);
    // mistakes are told, and nothing is kept
    let before = n.revision().await.unwrap();
    let bad = version(key(), recipe, Some(first), "title = 3");
    let refused = n.keep_recipe(&bad, ME).await;
    assert!(
        matches!(&refused, Err(Error::Text { what: "recipe", problems }) if !problems.is_empty())
    );
    let elsewhere = version(key(), key(), Some(first), RECIPE);
    assert!(matches!(n.keep_recipe(&elsewhere, ME).await, Err(Error::Given { .. })));
    assert!(matches!(n.recipe_version(key()).await, Err(Error::Missing { .. })));
    assert_eq!(n.revision().await.unwrap(), before);
}

async fn kitchens_are_kept_alike(ground: &Ground) {
    let n = ground.notebook().await;
    let (kitchen, first, second) = (key(), key(), key());
    n.keep_kitchen(&version(first, kitchen, None, KITCHEN), ME).await.unwrap();
    let warmer = KITCHEN.replace("19.5 °C", "20 °C");
    n.keep_kitchen(&version(second, kitchen, Some(first), &warmer), ME).await.unwrap();
    assert_eq!(n.kitchen_version(second).await.unwrap().text, warmer);
    n.use_kitchen_version(first, ME).await.unwrap();
    assert_eq!(n.kitchen(kitchen).await.unwrap().current, first);
    assert_eq!(n.kitchen_versions(kitchen).await.unwrap().len(), 2);
    let listed = n.kitchens(false, &Page::default()).await.unwrap();
    assert_eq!(listed.items[0].title, "The cold flat over the boathouse");
    n.put_kitchen_away(kitchen, true, ME).await.unwrap();
    assert!(n.kitchens(false, &Page::default()).await.unwrap().items.is_empty());
}

async fn lists_come_in_pages(ground: &Ground) {
    let n = ground.notebook().await;
    let b = begun(&n).await;
    for title in ["Ähre", "a b  c", "Zopf", "zopf", "a"] {
        let text = RECIPE.replace("Tidewater batard", title);
        n.keep_recipe(&version(key(), key(), None, &text), ME).await.unwrap();
    }
    let mut page = Page { after: None, most: 2 };
    let mut titles = Vec::new();
    loop {
        let listed = n.recipes(false, &page).await.unwrap();
        titles.extend(listed.items.into_iter().map(|t| t.title));
        page.after = listed.next;
        if page.after.is_none() {
            break;
        }
    }
    // by code points, on every machine
    assert_eq!(titles, ["Tidewater batard", "Zopf", "a", "a b  c", "zopf", "Ähre"]);
    for i in 0..7 {
        // several at one moment, so that keys decide
        let began = Moment(NOW.0 + i / 3);
        n.begin(&notebook::Bake { began, ..bake(b) }, ME).await.unwrap();
    }
    let mut page = Page { after: None, most: 3 };
    let mut seen = Vec::new();
    loop {
        let listed = n.bakes(Which::default(), &page).await.unwrap();
        assert!(listed.items.len() <= 3);
        seen.extend(listed.items.into_iter().map(|l| (l.bake.began, l.bake.id)));
        page.after = listed.next;
        if page.after.is_none() {
            break;
        }
    }
    assert_eq!(seen.len(), 7);
    assert!(seen.windows(2).all(|w| w[0] > w[1]));
    let of = |recipe| Which { recipe: Some(recipe), ..Which::default() };
    assert_eq!(n.bakes(of(b.recipe), &Page::default()).await.unwrap().items.len(), 7);
    assert!(n.bakes(of(key()), &Page::default()).await.unwrap().items.is_empty());
    let finished = Which { underway: Some(false), ..Which::default() };
    assert!(n.bakes(finished, &Page::default()).await.unwrap().items.is_empty());
    // a page that never was begins at the beginning
    let odd = Page { after: Some("nonsense".into()), most: 0 };
    assert_eq!(n.bakes(Which::default(), &odd).await.unwrap().items.len(), 1);
}

async fn anything_is_undone_and_redone(ground: &Ground) {
    let n = ground.notebook().await;
    let c = culture();
    let made = n.keep_culture(&c, ME).await.unwrap();
    let renamed = notebook::Culture { name: "Purser".into(), ..c.clone() };
    let changed = n.keep_culture(&renamed, ME).await.unwrap();
    assert_eq!(changed, made + 1);
    n.undo(changed, PHONE).await.unwrap();
    assert_eq!(n.culture(c.id).await.unwrap(), c);
    // the change under it, then both again
    assert!(matches!(n.undo(changed, ME).await, Err(Error::UndoneBefore { .. })));
    n.undo_latest(ME).await.unwrap();
    assert!(matches!(n.culture(c.id).await, Err(Error::Missing { .. })));
    assert!(matches!(n.undo_latest(ME).await, Err(Error::Nothing { verb: "undo", .. })));
    n.redo_latest(ME).await.unwrap();
    assert_eq!(n.culture(c.id).await.unwrap(), c);
    // the phone undid the renaming: the phone's to redo
    assert!(matches!(n.redo_latest(ME).await, Err(Error::Nothing { verb: "redo", .. })));
    let redone = n.redo_latest(PHONE).await.unwrap();
    assert_eq!(n.culture(c.id).await.unwrap(), renamed);
    // to undo a redo is to undo what stands again
    n.undo(redone, ME).await.unwrap();
    assert_eq!(n.culture(c.id).await.unwrap(), c);
    let all = n.changes(None, 50).await.unwrap();
    assert!(all.windows(2).all(|w| w[0].revision == w[1].revision + 1));
    let what: Vec<&str> = all.iter().map(|c| c.what.as_str()).collect();
    assert!(what.contains(&"undid: kept the culture Purser"), "{what:?}");
    assert!(what.contains(&"redid: kept the culture Purser"), "{what:?}");
    // a change that changes nothing is none
    let revision = n.revision().await.unwrap();
    assert_eq!(n.keep_culture(&c, ME).await.unwrap(), revision);
    assert_eq!(n.revision().await.unwrap(), revision);
}

async fn what_was_changed_since_is_not_undone(ground: &Ground) {
    let n = ground.notebook().await;
    let c = culture();
    let made = n.keep_culture(&c, ME).await.unwrap();
    n.keep_culture(&notebook::Culture { hydration: 50.0, ..c.clone() }, PHONE).await.unwrap();
    let refused = n.undo(made, ME).await;
    assert!(matches!(refused, Err(Error::ChangedSince { what: "culture", .. })), "{refused:?}");
    assert_eq!(n.culture(c.id).await.unwrap().hydration, 50.0);
    assert!(matches!(n.undo(999, ME).await, Err(Error::Missing { .. })));
}

async fn what_others_need_stays(ground: &Ground) {
    let n = ground.notebook().await;
    let c = culture();
    let made = n.keep_culture(&c, ME).await.unwrap();
    n.feed(&feed(c.id), ME).await.unwrap();
    assert!(matches!(n.undo(made, ME).await, Err(Error::Needed)));
    assert_eq!(n.culture(c.id).await.unwrap(), c);
    assert!(matches!(n.feed(&feed(key()), ME).await, Err(Error::Missing { .. })));
    // the notebook goes on after a refusal
    n.feed(&feed(c.id), ME).await.unwrap();
}

async fn cultures_are_fed(ground: &Ground) {
    let n = ground.notebook().await;
    let c = culture();
    n.keep_culture(&c, ME).await.unwrap();
    let mut feeds = Vec::new();
    for hour in 0..5 {
        let f = notebook::Feed { at: Moment(NOW.0 + hour * 3_600_000), ..feed(c.id) };
        n.feed(&f, ME).await.unwrap();
        feeds.push(f);
    }
    feeds.reverse();
    let first = n.feeds(c.id, &Page { after: None, most: 3 }).await.unwrap();
    assert_eq!(first.items, feeds[..3]);
    let second = n.feeds(c.id, &Page { after: first.next, most: 3 }).await.unwrap();
    assert_eq!(second.items, feeds[3..]);
    assert_eq!(second.next, None);
    n.remove_feed(feeds[0].id, ME).await.unwrap();
    n.undo_latest(ME).await.unwrap();
    assert_eq!(n.feeds(c.id, &Page::default()).await.unwrap().items, feeds);
    let jar = notebook::Measurement {
        bake: None,
        culture: Some(c.id),
        of: "jar".into(),
        ..measured(key(), Kind::Rise, 80.0)
    };
    n.measure(&jar, ME).await.unwrap();
    assert_eq!(n.measured_of(c.id, &Page::default()).await.unwrap().items, [jar]);
    let dry = notebook::Culture { hydration: 3.0, ..c };
    assert!(matches!(n.keep_culture(&dry, ME).await, Err(Error::Given { .. })));
    assert_eq!(n.cultures(false).await.unwrap().len(), 1);
}

async fn sent_twice_kept_once(ground: &Ground) {
    let n = ground.notebook().await;
    let b = begun(&n).await;
    let k = bake(b);
    n.begin(&k, PHONE).await.unwrap();
    let m = measured(k.id, Kind::Temperature, 24.5);
    let d = did(k.id, 1);
    let kept = n.measure(&m, PHONE).await.unwrap();
    n.did(&d, PHONE).await.unwrap();
    let revision = n.revision().await.unwrap();
    // the answer was lost: the phone sends all of it again
    assert_eq!(n.begin(&k, PHONE).await.unwrap(), revision);
    assert_eq!(n.measure(&m, PHONE).await.unwrap(), revision);
    assert_eq!(n.did(&d, PHONE).await.unwrap(), revision);
    assert_eq!(n.bake(k.id).await.unwrap().measured, std::slice::from_ref(&m));
    // another value under the same key is a mistake
    let other = notebook::Measurement { value: Some(25.0), ..m.clone() };
    assert!(matches!(n.measure(&other, PHONE).await, Err(Error::Different { .. })));
    // undone, it does not come back by being sent again
    n.undo(kept, ME).await.unwrap();
    n.measure(&m, PHONE).await.unwrap();
    assert!(n.bake(k.id).await.unwrap().measured.is_empty());
}

async fn a_finished_bake_is_annotated_never_edited(ground: &Ground) {
    let n = ground.notebook().await;
    let b = begun(&n).await;
    let k = bake(b);
    n.begin(&k, ME).await.unwrap();
    let m = measured(k.id, Kind::Rise, 45.0);
    let d = did(k.id, 1);
    let added = n.measure(&m, ME).await.unwrap();
    n.did(&d, ME).await.unwrap();
    n.correct(&notebook::Measurement { value: Some(47.0), ..m.clone() }, ME).await.unwrap();
    let verdict = Verdict { crumb: Some(Crumb::Open), ..Verdict::default() };
    n.judge(k.id, verdict, "promising", ME).await.unwrap();
    let end = Moment(NOW.0 + 1);
    let early = n.finish(k.id, Moment(NOW.0 - 1), verdict, "", ME).await;
    assert!(matches!(early, Err(Error::Given { .. })));
    let finished = n.finish(k.id, end, verdict, "good", ME).await.unwrap();
    let whole = n.bake(k.id).await.unwrap();
    assert_eq!((whole.bake.finished, whole.bake.crumb), (Some(end), Some(Crumb::Open)));

    let late = measured(k.id, Kind::Rise, 99.0);
    let refused = [
        n.correct(&notebook::Measurement { value: Some(48.0), ..m.clone() }, ME).await,
        n.remove_measurement(m.id, ME).await,
        n.remove_did(d.id, ME).await,
        n.judge(k.id, Verdict::default(), "", ME).await,
        n.finish(k.id, Moment(NOW.0 + 2), verdict, "", ME).await,
        n.undo(added + 2, ME).await, // the correction
    ];
    for (i, r) in refused.iter().enumerate() {
        assert!(matches!(r, Err(Error::Finished { .. })), "{i}: {r:?}");
    }
    assert_eq!(n.bake(k.id).await.unwrap(), whole);

    let note = Annotation {
        id: key(),
        bake: k.id,
        at: end,
        words: "stale by the third day".into(),
        photo: None,
        demo: false,
    };
    let noted = n.annotate(&note, ME).await.unwrap();
    assert_eq!(n.bake(k.id).await.unwrap().annotations, std::slice::from_ref(&note));
    n.undo(noted, ME).await.unwrap();
    n.redo_latest(ME).await.unwrap();
    // finishing by mistake can be undone; then it is underway
    n.undo(finished, ME).await.unwrap();
    n.measure(&late, ME).await.unwrap();
    n.finish(k.id, end, verdict, "good", ME).await.unwrap();
    // and it may be taken away as a whole, and brought back
    let whole = n.bake(k.id).await.unwrap();
    n.remove_bake(k.id, ME).await.unwrap();
    assert!(matches!(n.bake(k.id).await, Err(Error::Missing { .. })));
    n.undo_latest(ME).await.unwrap();
    assert_eq!(n.bake(k.id).await.unwrap(), whole);
}

async fn what_comes_late_becomes_a_note(ground: &Ground) {
    let n = ground.notebook().await;
    let b = begun(&n).await;
    let k = bake(b);
    n.begin(&k, ME).await.unwrap();
    let (kept, first) = (measured(k.id, Kind::Rise, 45.0), did(k.id, 1));
    n.measure(&kept, PHONE).await.unwrap();
    n.did(&first, PHONE).await.unwrap();
    n.finish(k.id, Moment(NOW.0 + 1), Verdict::default(), "", ME).await.unwrap();
    let finished = n.bake(k.id).await.unwrap();
    // what was kept in time and is sent again is no note
    let revision = n.revision().await.unwrap();
    assert_eq!(n.measure(&kept, PHONE).await.unwrap(), revision);
    assert_eq!(n.did(&first, PHONE).await.unwrap(), revision);

    let words = "in the middle".to_owned();
    let late = notebook::Measurement { words, ..measured(k.id, Kind::Core, 96.5) };
    let noted = n.measure(&late, PHONE).await.unwrap();
    assert_eq!(n.measure(&late, PHONE).await.unwrap(), noted);
    let step = did(k.id, 2);
    let told = n.did(&step, PHONE).await.unwrap();
    assert_eq!(n.did(&step, PHONE).await.unwrap(), told);
    let whole = n.bake(k.id).await.unwrap();
    assert_eq!(
        (&whole.bake, &whole.measured, &whole.did),
        (&finished.bake, &finished.measured, &finished.did)
    );
    let notes: Vec<_> = whole.annotations.iter().map(|a| (a.id, a.at, a.words.as_str())).collect();
    let core = (late.id, late.at, "measured core of dough: 96.5 °C: in the middle");
    assert!(notes.contains(&core), "{notes:?}");
    assert!(notes.contains(&(step.id, step.at, "began step 2")), "{notes:?}");
    // a wrong one is refused as ever, and a note can be taken back
    let wrong = notebook::Measurement { value: None, ..measured(k.id, Kind::Core, 0.0) };
    assert!(matches!(n.measure(&wrong, PHONE).await, Err(Error::Given { .. })));
    n.undo(told, PHONE).await.unwrap();
    assert_eq!(n.bake(k.id).await.unwrap().annotations.len(), 1);
    // undone is undone, however often the phone sends it again
    n.did(&step, PHONE).await.unwrap();
    assert_eq!(n.bake(k.id).await.unwrap().annotations.len(), 1);
}

async fn a_past_bake_is_one_change(ground: &Ground) {
    let n = ground.notebook().await;
    let b = begun(&n).await;
    let k = notebook::Bake { finished: Some(NOW), ..bake(b) };
    let (d, m) = ([did(k.id, 1), did(k.id, 2)], [measured(k.id, Kind::Core, 97.0)]);
    let before = n.revision().await.unwrap();
    let logged = n.log(&k, &d, &m, PHONE).await.unwrap();
    assert_eq!((logged, n.log(&k, &d, &m, PHONE).await.unwrap()), (before + 1, before + 1));
    let whole = n.bake(k.id).await.unwrap();
    assert_eq!((whole.did.as_slice(), whole.measured.as_slice()), (d.as_slice(), m.as_slice()));
    let stray = [measured(key(), Kind::Core, 97.0)];
    assert!(matches!(n.log(&bake(b), &[], &stray, ME).await, Err(Error::Given { .. })));
    n.undo(logged, ME).await.unwrap();
    assert!(matches!(n.bake(k.id).await, Err(Error::Missing { .. })));
}

async fn values_go_with_their_kind(ground: &Ground) {
    let n = ground.notebook().await;
    let k = bake(begun(&n).await);
    n.begin(&k, ME).await.unwrap();
    for (kind, value) in [
        (Kind::Rise, 45.0),
        (Kind::Ph, 4.1),
        (Kind::Temperature, 24.0),
        (Kind::Poke, 1.0),
        (Kind::Core, 97.0),
        (Kind::Oven, 245.0),
        (Kind::Weight, 652.0),
    ] {
        n.measure(&measured(k.id, kind, value), ME).await.unwrap();
        for wrong in [f64::NAN, f64::INFINITY, -1e9, 1e9] {
            let refused = n.measure(&measured(k.id, kind, wrong), ME).await;
            assert!(matches!(refused, Err(Error::Given { .. })), "{kind} {wrong}");
        }
    }
    let m = measured(k.id, Kind::Note, 1.0);
    assert!(matches!(n.measure(&m, ME).await, Err(Error::Given { .. })));
    let note =
        notebook::Measurement { value: None, error: None, words: "slack".into(), ..m.clone() };
    n.measure(&note, ME).await.unwrap();
    let zero = notebook::Measurement { id: key(), words: "a\0b".into(), ..note };
    assert!(matches!(n.measure(&zero, ME).await, Err(Error::Given { .. })));
    let nobody = notebook::Measurement { bake: None, ..measured(k.id, Kind::Ph, 4.0) };
    assert!(matches!(n.measure(&nobody, ME).await, Err(Error::Given { .. })));
    let never = notebook::Measurement { at: Moment(i64::MAX), ..measured(k.id, Kind::Ph, 4.0) };
    assert!(matches!(n.measure(&never, ME).await, Err(Error::Given { .. })));
    let kinds: Vec<Kind> = n.bake(k.id).await.unwrap().measured.iter().map(|m| m.kind).collect();
    assert_eq!(kinds.len(), 8);
}

fn plan(b: Begun) -> Plan {
    Plan {
        id: key(),
        recipe_version: b.version,
        kitchen_version: b.kitchen_version,
        culture: None,
        at: NOW,
        ready: Moment(NOW.0 + 86_400_000),
        zone: "Europe/London".into(),
        document: "{ \"b\": 1.50,\n \"a\": [\"°C\", 1e400] }".into(),
        demo: false,
    }
}

async fn a_plan_takes_the_place_of_another(ground: &Ground) {
    let n = ground.notebook().await;
    let b = begun(&n).await;
    let (first, later) = (plan(b), Plan { ready: Moment(NOW.0 + 90_000_000), ..plan(b) });
    n.accept(&first, ME).await.unwrap();
    let changed = n.accept_instead(&later, first.id, ME).await.unwrap();
    assert_eq!(n.accept_instead(&later, first.id, ME).await.unwrap(), changed);
    assert_eq!(n.plans(NOW, 5).await.unwrap(), std::slice::from_ref(&later));
    // one step back
    n.undo_latest(ME).await.unwrap();
    assert_eq!(n.plans(NOW, 5).await.unwrap(), std::slice::from_ref(&first));
    n.redo_latest(ME).await.unwrap();
    // of two devices the second finds it gone: both plans stay
    let third = plan(b);
    n.accept_instead(&third, first.id, PHONE).await.unwrap();
    assert_eq!(n.plans(NOW, 5).await.unwrap().len(), 2);
    // what a bake followed stays
    n.begin(&notebook::Bake { plan: Some(later.id), ..bake(b) }, ME).await.unwrap();
    let refused = n.accept_instead(&plan(b), later.id, ME).await;
    assert!(matches!(refused, Err(Error::Given { .. })));
    assert_eq!(n.plans(NOW, 5).await.unwrap().len(), 2);
}

async fn plans_stay_as_accepted(ground: &Ground) {
    let n = ground.notebook().await;
    let b = begun(&n).await;
    let plan = plan(b);
    n.accept(&plan, ME).await.unwrap();
    n.accept(&plan, ME).await.unwrap();
    assert_eq!(n.plan(plan.id).await.unwrap(), plan);
    assert_eq!(n.plans(NOW, 5).await.unwrap(), std::slice::from_ref(&plan));
    assert!(n.plans(plan.ready, 5).await.unwrap().is_empty());
    let broken = Plan { id: key(), document: "{".into(), ..plan.clone() };
    assert!(matches!(n.accept(&broken, ME).await, Err(Error::Given { .. })));
    // a bake keeps what it was planned with, whatever becomes of recipe and kitchen
    let k = notebook::Bake { plan: Some(plan.id), ..bake(b) };
    n.begin(&k, ME).await.unwrap();
    let warmer = KITCHEN.replace("19.5 °C", "24 °C");
    n.keep_kitchen(&version(key(), b.kitchen, Some(b.kitchen_version), &warmer), ME).await.unwrap();
    let kept = n.bake(k.id).await.unwrap().bake;
    assert_eq!(n.kitchen_version(kept.kitchen_version).await.unwrap().text, KITCHEN);
    assert!(matches!(n.remove_plan(plan.id, ME).await, Err(Error::Needed)));
}

async fn pages_learn_what_changed(ground: &Ground) {
    let n = ground.notebook().await;
    assert!(n.is_new().await.unwrap());
    let b = begun(&n).await;
    let k = bake(b);
    let before = n.begin(&k, ME).await.unwrap();
    let m = measured(k.id, Kind::Ph, 4.2);
    n.measure(&m, PHONE).await.unwrap();
    n.correct(&notebook::Measurement { value: Some(4.3), ..m.clone() }, PHONE).await.unwrap();
    let since = n.since(before).await.unwrap();
    assert_eq!(since.revision, before + 2);
    let touched = since.touched.unwrap();
    assert_eq!(touched.len(), 1);
    assert_eq!(
        (touched[0].entry.as_str(), touched[0].id.as_str()),
        ("measurement", &*m.id.to_string())
    );
    assert_eq!(n.since(before + 2).await.unwrap().touched, Some(vec![]));
    // a page of another notebook, or of one that was restored, reads everything anew
    assert_eq!(n.since(before + 99).await.unwrap().touched, None);
    let changes = n.changes(Some(before + 2), 1).await.unwrap();
    assert_eq!(changes[0].what, "measured of dough pH 4.2");
    assert_eq!(changes[0].who, "phone");
}

async fn photos_are_kept_once(ground: &Ground) {
    let n = ground.notebook().await;
    let bytes = b"not really a jpeg";
    let hash = n.keep_photo(bytes, "image/jpeg", ME).await.unwrap();
    let revision = n.revision().await.unwrap();
    assert_eq!(n.keep_photo(bytes, "image/jpeg", PHONE).await.unwrap(), hash);
    assert_eq!(n.revision().await.unwrap(), revision);
    let (photo, path) = n.photo(hash).await.unwrap();
    assert_eq!((photo.bytes, std::fs::read(path).unwrap().as_slice()), (17, bytes.as_slice()));
    assert!(matches!(n.keep_photo(bytes, "text/html", ME).await, Err(Error::Given { .. })));
    assert!(matches!(n.keep_photo(b"", "image/png", ME).await, Err(Error::Given { .. })));
    let k = bake(begun(&n).await);
    n.begin(&k, ME).await.unwrap();
    let m = notebook::Measurement {
        value: None,
        photo: Some(hash),
        ..measured(k.id, Kind::Photo, 0.0)
    };
    n.measure(&m, ME).await.unwrap();
    let listed = n.bakes(Which::default(), &Page::default()).await.unwrap();
    assert_eq!(listed.items[0].photo, Some(hash));
    let gone = notebook::Measurement { id: key(), photo: Some(notebook::Hash::of(b"gone")), ..m };
    assert!(matches!(n.measure(&gone, ME).await, Err(Error::Needed)));
}

async fn the_demo_comes_and_goes(ground: &Ground) {
    let n = ground.notebook().await;
    assert!(n.is_new().await.unwrap());
    n.seed_demo(ME).await.unwrap();
    assert!(n.has_demo().await.unwrap() && !n.is_new().await.unwrap());
    assert!(matches!(n.seed_demo(ME).await, Err(Error::Given { .. })));
    let page = Page::default();
    assert_eq!(n.recipes(false, &page).await.unwrap().items.len(), 5);
    assert_eq!(n.kitchens(false, &page).await.unwrap().items.len(), 3);
    let bakes = n.bakes(Which::default(), &page).await.unwrap().items;
    assert!(bakes.len() == 2 && bakes.iter().all(|b| b.bake.finished.is_some()));
    // the user's own, beside it
    let b = begun(&n).await;
    let mine = bake(b);
    n.begin(&mine, ME).await.unwrap();
    let removed = n.remove_demo(ME).await.unwrap();
    assert!(!n.has_demo().await.unwrap());
    assert_eq!(n.recipes(false, &page).await.unwrap().items.len(), 1);
    assert_eq!(n.kitchens(false, &page).await.unwrap().items.len(), 1);
    assert!(n.cultures(false).await.unwrap().is_empty());
    let left = n.bakes(Which::default(), &page).await.unwrap().items;
    assert_eq!(left.iter().map(|l| l.bake.id).collect::<Vec<_>>(), [mine.id]);
    // one click, one step back
    n.undo(removed, ME).await.unwrap();
    assert!(n.has_demo().await.unwrap());
    assert_eq!(n.recipes(false, &page).await.unwrap().items.len(), 6);
    n.remove_demo(ME).await.unwrap();
    // it can be had again
    let later = By { at: Moment(NOW.0 + 1), who: "bench" };
    n.seed_demo(later).await.unwrap();
}

async fn the_demo_leaves_what_the_user_needs(ground: &Ground) {
    let n = ground.notebook().await;
    n.seed_demo(ME).await.unwrap();
    let page = Page::default();
    let recipes = n.recipes(false, &page).await.unwrap().items;
    let kitchens = n.kitchens(false, &page).await.unwrap().items;
    // a bake of the user's with a recipe and a kitchen of the demo
    let mine = notebook::Bake {
        recipe_version: recipes[1].current,
        kitchen_version: kitchens[2].current,
        ..bake(Begun { recipe: key(), version: key(), kitchen: key(), kitchen_version: key() })
    };
    n.begin(&mine, ME).await.unwrap();
    // a version of the user's of another recipe of the demo
    let text = n.recipe_version(recipes[3].current).await.unwrap().text;
    let own = NewVersion {
        id: key(),
        of: recipes[3].id,
        parent: Some(recipes[3].current),
        text,
        note: "mine".into(),
    };
    n.keep_recipe(&own, ME).await.unwrap();
    // a note of the user's to a bake of the demo
    let noted = n.bakes(Which::default(), &page).await.unwrap().items[1].bake.clone();
    let before = n.bake(noted.id).await.unwrap();
    let words = "hm".into();
    n.annotate(
        &Annotation { id: key(), bake: noted.id, at: NOW, words, photo: None, demo: false },
        ME,
    )
    .await
    .unwrap();
    n.remove_demo(ME).await.unwrap();
    assert!(!n.has_demo().await.unwrap());
    let left: BTreeSet<_> =
        n.recipes(false, &page).await.unwrap().items.into_iter().map(|r| r.title).collect();
    let wanted = BTreeSet::from([
        recipes[1].title.clone(),
        recipes[3].title.clone(),
        "Tidewater batard".to_owned(),
    ]);
    assert_eq!(left, wanted);
    assert_eq!(n.recipe_versions(recipes[3].id).await.unwrap().len(), 2);
    let after = n.bake(noted.id).await.unwrap();
    assert_eq!(after.measured.len(), before.measured.len());
    assert_eq!(after.annotations.len(), 2);
    n.bake(mine.id).await.unwrap();
    assert_eq!(n.cultures(false).await.unwrap().len(), 1, "the noted bake's starter");
}

async fn a_folder_makes_the_same_notebook(ground: &Ground) {
    let n = ground.notebook().await;
    full(&n).await;
    let (one, two) = (ground.dir().join("one"), ground.dir().join("two"));
    let moved = n.export(&one).await.unwrap();
    assert_eq!(moved.photos, 1);
    let files = listing(&one);
    n.export(&one).await.unwrap();
    assert_eq!(listing(&one), files, "an export again is the same");

    // into a file, whatever it came from
    let file = Ground::files();
    let other = file.notebook().await;
    assert_eq!(other.import(&one, ME).await.unwrap(), moved);
    other.export(&two).await.unwrap();
    assert_eq!(listing(&two), files);
    assert!(other.has_demo().await.unwrap());
    // again: everything is here already
    let revision = other.revision().await.unwrap();
    other.import(&one, ME).await.unwrap();
    assert_eq!(other.revision().await.unwrap(), revision);
    // and it is one step back
    other.undo_latest(ME).await.unwrap();
    assert!(other.recipes(false, &Page::default()).await.unwrap().items.is_empty());

    // what goes, goes from the folder too; what is not ours stays
    std::fs::write(one.join("bakes").join("README.txt"), "mine").unwrap();
    n.remove_demo(ME).await.unwrap();
    n.export(&one).await.unwrap();
    assert!(listing(&one).len() < files.len());
    assert!(one.join("bakes/README.txt").exists());

    // into a notebook of this back end
    let third = ground.notebook().await;
    third.import(&two, ME).await.unwrap();
    let three = ground.dir().join("three");
    third.export(&three).await.unwrap();
    assert_eq!(listing(&three), files);

    // mistakes are told with their place
    let elsewhere = ground.dir().join("elsewhere");
    std::fs::create_dir_all(&elsewhere).unwrap();
    std::fs::write(elsewhere.join("letter.txt"), "dear").unwrap();
    assert!(matches!(n.export(&elsewhere).await, Err(Error::Folder { .. })));
    assert!(matches!(third.import(&elsewhere, ME).await, Err(Error::Folder { .. })));
    let plans = two.join("plans/plans.csv");
    let text = std::fs::read_to_string(&plans).unwrap();
    std::fs::write(&plans, text.replace(&NOW.to_string(), "2026-13-29")).unwrap();
    let refused = third.import(&two, ME).await.unwrap_err().to_string();
    assert!(
        refused.contains("plans.csv, line 2: ") && refused.contains("not a moment"),
        "{refused}"
    );
    std::fs::remove_dir_all(one).unwrap();
    std::fs::remove_dir_all(two).unwrap();
    std::fs::remove_dir_all(three).unwrap();
}

/// Every file with its bytes.
fn listing(dir: &std::path::Path) -> std::collections::BTreeMap<std::path::PathBuf, Vec<u8>> {
    let mut out = std::collections::BTreeMap::new();
    let mut todo = vec![dir.to_owned()];
    while let Some(d) = todo.pop() {
        for e in std::fs::read_dir(&d).unwrap() {
            let path = e.unwrap().path();
            if path.is_dir() {
                todo.push(path);
            } else {
                let bytes = std::fs::read(&path).unwrap();
                out.insert(path.strip_prefix(dir).unwrap().to_owned(), bytes);
            }
        }
    }
    out
}

async fn two_writers_take_turns(ground: &Ground) {
    let place = ground.place().await;
    let one = Notebook::open(&place, NOW).await.unwrap();
    let two = Notebook::open(&place, NOW).await.unwrap();
    let k = bake(begun(&one).await);
    one.begin(&k, ME).await.unwrap();
    let before = one.revision().await.unwrap();
    let mut tasks = Vec::new();
    for n in [&one, &two, &one, &two] {
        let n = n.clone();
        tasks.push(tokio::spawn(async move {
            for _ in 0..25 {
                n.measure(&measured(k.id, Kind::Ph, 4.0), ME).await.unwrap();
            }
        }));
    }
    for task in tasks {
        task.await.unwrap();
    }
    assert_eq!(two.bake(k.id).await.unwrap().measured.len(), 100);
    assert_eq!(two.revision().await.unwrap(), before + 100);
    let changes = two.changes(None, 500).await.unwrap();
    assert!(changes.windows(2).all(|w| w[0].revision == w[1].revision + 1));
    two.check().await.unwrap();
}

async fn a_backup_is_a_notebook(ground: &Ground) {
    let n = ground.notebook().await;
    full(&n).await;
    let revision = n.revision().await.unwrap();
    let backup = n.back_up(NOW).await.unwrap();
    let again = n.back_up(NOW).await.unwrap();
    assert_ne!(backup, again);
    n.remove_demo(ME).await.unwrap();
    let restored = Notebook::restore(&backup, &ground.place().await, NOW).await.unwrap();
    assert_eq!(restored.revision().await.unwrap(), revision);
    assert!(restored.has_demo().await.unwrap());
    restored.undo_latest(ME).await.unwrap();
    restored.check().await.unwrap();
}
