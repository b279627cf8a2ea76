//! A lesson by forms and links alone, as a browser without script goes through it.

use crate::house::{House, files};
use axum::http::StatusCode;

const NOTE: &str =
    "weak slice, pulls the short irons, divots point in, grip is fine, since the wedding";

/// The first start on a page.
fn first(page: &str) -> &str {
    let starts = page.split_once("class=\"starts\"").expect("starts").1;
    starts
        .split_once("/show/")
        .expect("a start")
        .1
        .split('"')
        .next()
        .expect("an id")
}

/// What the buttons of a page do, in order.
fn buttons(page: &str) -> Vec<String> {
    page.split("name=\"do\" value=\"")
        .skip(1)
        .map(|rest| {
            rest.split('"')
                .next()
                .expect("closed")
                .replace("&amp;", "&")
        })
        .collect()
}

#[test]
fn a_lesson_from_the_note_to_the_students_page() {
    let house = House::open();
    let lesson = house.act("", "read", &[("note", NOTE), ("handed", "right")]);
    let page = house.page(&lesson);
    for said in [
        "Slice",
        "weak slice",
        "Divot points to the left",
        "not understood",
        "since the wedding",
        "Settled",
        "Why",
    ] {
        assert!(page.contains(said), "{said}");
    }
    let over = first(&page).to_owned();
    assert_eq!(over, "over-the-top");
    // A no to the first start moves it away; taking it back brings it back.
    let no = house.act(&lesson, &format!("step:look:{over}:no"), &[]);
    assert_ne!(first(&house.page(&no)), over);
    let back = house.act(&no, "back", &[]);
    assert_eq!(back.split('#').next(), lesson.split('#').next());
    assert_eq!(first(&house.page(&back)), over);
    let called = house.act(&back, &format!("step:called:{over}"), &[]);
    assert!(house.page(&called).contains("Your call"));
    let plan = house.act(
        &called,
        "plan",
        &[
            ("minutes", "30"),
            ("place", "range"),
            ("limited", "yes"),
            ("have", "mirror"),
        ],
    );
    let page = house.page(&plan);
    assert!(page.contains("Lesson, 30 minutes, range") && page.contains("Work on"));
    let sheet = plan.replacen("/plan", "/sheet", 1);
    assert!(house.page(&sheet).contains("Your golf plan"));
    let saved = house.get(&plan.replacen("/plan", "/sheet.html", 1));
    assert!(
        saved
            .header("content-disposition")
            .starts_with("attachment")
    );
    assert!(saved.text.contains("<style>"));
    let chain = house.get(&plan.replacen("/plan", "/chain.svg", 1));
    assert!(chain.text.starts_with("<svg") && chain.header("content-type") == "image/svg+xml");
}

#[test]
fn two_looks_at_most_are_put_and_each_has_four_answers() {
    let house = House::open();
    let lesson = house.act("", "read", &[("note", "thin irons")]);
    let looks: Vec<String> = buttons(&house.page(&lesson))
        .into_iter()
        .filter(|what| what.starts_with("step:look:"))
        .collect();
    assert_eq!(looks.len(), 8, "{looks:?}");
    // One that is put off is not put again, and moves nothing.
    let put_off = looks
        .iter()
        .find(|what| what.ends_with(":later"))
        .expect("later");
    let later = house.act(&lesson, put_off, &[]);
    let page = house.page(&later);
    assert!(!buttons(&page).contains(put_off));
    assert_eq!(first(&page), first(&house.page(&lesson)));
}

#[test]
fn a_reading_is_put_right_by_a_tap_and_by_other_words() {
    let house = House::open();
    let lesson = house.act("", "read", &[("note", NOTE)]);
    let slight = house.act(&lesson, "step:stands:slice:slight", &[]);
    assert!(house.page(&slight).contains("chip slight"));
    let dropped = house.act(&slight, "step:drop:pull", &[]);
    assert!(
        !house
            .page(&dropped)
            .contains("pulls the short irons</span>")
            || !house.page(&dropped).contains("stands:pull:")
    );
    let other = house.act(&dropped, "means:slice", &[("words", "hook")]);
    assert!(house.page(&other).contains("stands:hook:"));
    let unsure = house.act(&dropped, "means:slice", &[("words", "zzz")]);
    assert!(house.page(&unsure).contains("means nothing certain"));
    let read = house.act(
        &dropped,
        "reads:since the wedding",
        &[("words", "over the top")],
    );
    let page = house.page(&read);
    assert!(page.contains("stands:over-the-top:") && !page.contains("not understood"));
}

#[test]
fn what_hurts_comes_first_and_no_look_is_put() {
    let house = House::open();
    let lesson = house.act(
        "",
        "read",
        &[("note", "weak slice, sharp pain in the lower back")],
    );
    let page = house.page(&lesson);
    let alert = page.find("role=\"alert\"").expect("a caution");
    assert!(alert < page.find("What was read").expect("the reading"));
    assert!(page.contains("licensed health professional") && page.contains("No lesson today"));
    assert!(
        buttons(&page)
            .iter()
            .all(|what| !what.starts_with("step:look:")),
        "nothing to try out"
    );
    let plan = house.act(&lesson, "plan", &[]);
    assert!(house.page(&plan).contains("No lesson today"));
}

#[test]
fn a_lesson_outlives_tab_and_server() {
    let house = House::open();
    let lesson = house.act("", "read", &[("note", NOTE)]);
    let no = house.act(&lesson, "step:look:over-the-top:no", &[]);
    // The address alone brings it back, in another tab and on another server.
    let House { home, .. } = house;
    let again = House::kept_in(home, false).let_in();
    let begin = again.page("/");
    let at = begin
        .split_once("href=\"/lesson?")
        .expect("a lesson to go on with")
        .1;
    let kept = format!(
        "/lesson?{}",
        at.split('"').next().expect("closed").replace("&amp;", "&")
    );
    assert_eq!(Some(kept.as_str()), no.split('#').next());
    assert_ne!(first(&again.page(&kept)), "over-the-top");
    let name = kept.split(['=', '&']).nth(1).expect("a name");
    assert_eq!(
        again.post("/forget", &[("lesson", name)]).status,
        StatusCode::SEE_OTHER
    );
    assert!(!again.page("/").contains("Lessons to go on with"));
}

#[test]
fn two_tabs_do_not_overwrite_each_other() {
    let house = House::open();
    let lesson = house.act("", "read", &[("note", NOTE)]);
    let one = house.act(&lesson, "step:look:over-the-top:no", &[]);
    let other = house.act(&lesson, "step:look:over-the-top:yes", &[]);
    let page = house.page("/").replace("&amp;", "&");
    for address in [&one, &other] {
        let address = address.split('#').next().expect("an address");
        assert!(page.contains(&format!("href=\"{address}\"")), "{address}");
    }
    // Each goes on from where it stood, under its own name.
    house.act(&one, "step:look:ball-too-far-forward:no", &[]);
    house.act(&other, "step:look:ball-too-far-forward:yes", &[]);
    assert_eq!(files(&house.home.path().join("lessons")).len(), 2);
}

#[test]
fn slips_are_answered_in_words_and_nothing_is_lost() {
    let house = House::open();
    let answer = house.post("/lesson", &[("ask", ""), ("do", "read"), ("note", "  ")]);
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text.contains("there is no note yet"));
    let answer = house.post("/lesson", &[("ask", "note=slice"), ("do", "jump")]);
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(house.page("/lesson").contains("What did you see?"));
    let unknown = house.get("/lesson?note=qwertyuiop");
    assert_eq!(unknown.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        unknown
            .text
            .contains("means nothing that the library knows")
    );
    assert!(
        unknown.text.contains(">qwertyuiop</textarea>"),
        "the note is there to be mended"
    );
}

#[test]
fn drills_by_words_with_switches() {
    let house = House::open();
    let page = house.page("/drills?words=chunked+wedges+at+home");
    assert!(
        page.contains("drills fit")
            && page.contains("works on")
            && page.contains("role=\"search\"")
    );
    let narrowed = house.page("/drills?words=slice&place=home&ladder=&kind=");
    assert!(narrowed.contains("id=\"place-home\" checked"));
    assert!(house.page("/drills?words=").contains("What do you see?"));
    let referred = house.page("/drills?words=knee+pain");
    assert!(
        referred.contains("role=\"alert\"") && referred.contains("licensed health professional")
    );
    let wrong = house.page("/drills?words=slice&have=miror");
    assert!(
        wrong.contains("no drill of this library needs") && wrong.contains("did you mean mirror")
    );
}

/// The picture says left and right as the lesson does.
#[test]
fn the_chain_is_drawn_in_the_coachs_left_and_right() {
    let house = House::open();
    let of = |hand: &str| {
        let note = "hangs+back+on+the+trail+side,+trail+elbow+flies,+lead+wrist+cupped+at+the+top";
        house.get(&format!("/chain.svg?note={note}{hand}")).text
    };
    let (open, right, left) = (of(""), of("&handed=right"), of("&handed=left"));
    assert!(
        open.contains(">trail foot<") && !right.contains(">trail foot<"),
        "{right}"
    );
    assert!(
        right.contains(">right foot<") && left.contains(">left foot<"),
        "{left}"
    );
    assert_ne!(right, left);
}
