//! The example of the README from the note to the student's page.

use crate::driver::{PHONE, Session, TABLET, in_browser};
use fantoccini::Locator;

const NOTE: &str = "weak slice, pulls the short irons, divots point in, grip is fine";

/// A note whose order is not settled, so that looks are put at once.
const OPEN: &str = "thin irons";

async fn first_start(session: &Session) -> String {
    session.text(".starts h3").await
}

/// From the note to the plan with nothing but the keyboard.
async fn by_keyboard(session: Session) {
    session.tab_to("note").await;
    session.type_in(NOTE).await;
    session.tab_to("Where does it start?").await;
    session.press("Enter", "\r").await;
    session.until_path("/lesson?").await;
    session
        .until("#standing", |text| text.starts_with("Settled"))
        .await;
    assert_eq!(first_start(&session).await, "Over the top");
    session.fits_its_width().await;
    // A reading is put right, and that is taken back.
    session
        .tab_to("1 Slice seen \u{201c}weak slice\u{201d}")
        .await;
    session.press("Enter", "\r").await;
    session.tab_to("Not seen").await;
    session.press("Enter", "\r").await;
    session
        .until("#read", |text| text.contains("not seen"))
        .await;
    session
        .until(".chip.not-seen .name", |text| text == "Slice")
        .await;
    session.tab_to("Take back").await;
    session.press("Enter", "\r").await;
    session.until(".chip .name", |text| text == "Slice").await;
    session
        .until(".chip.seen .name", |text| text == "Slice")
        .await;
    // A look further: no, and the order moves.
    session.tab_to("Look further all the same").await;
    session.press("Enter", "\r").await;
    session.tab_to("No").await;
    session.press("Enter", "\r").await;
    session
        .until(".starts h3", |text| text != "Over the top")
        .await;
    // The coach calls it, and goes on to the plan and the student's page.
    session.tab_to("Ball too far forward").await;
    to_the_sheet_by_keyboard(&session).await;
}

async fn to_the_sheet_by_keyboard(session: &Session) {
    session.tab_to("To the plan").await;
    session.press("Enter", "\r").await;
    session.until_path("/plan?").await;
    session.until("h1", |text| text == "Plan").await;
    session.fits_its_width().await;
    session.tab_to("The student\u{2019}s page").await;
    session.press("Enter", "\r").await;
    session.until_path("/sheet?").await;
    session.until("h1", |text| text == "Your golf plan").await;
}

/// The same with nothing but a finger.
async fn by_touch(session: Session) {
    session.touch(Locator::Id("note")).await;
    session.type_in(OPEN).await;
    session
        .touch(Locator::XPath("//label[span='right-handed']"))
        .await;
    session.touch(Locator::Css(".begin button.main")).await;
    session.until_path("/lesson?").await;
    session.until("#standing", |text| !text.is_empty()).await;
    session.fits_its_width().await;
    let before = session.text("#looks .look h3").await;
    let order = session.text(".starts").await;
    session
        .touch(Locator::XPath("(//article)[1]//button[text()='No']"))
        .await;
    session
        .until("#looks .look h3", |text| text != before)
        .await;
    session.until(".starts", |text| text != order).await;
    // Back gives the look again, and a reload loses nothing.
    session
        .touch(Locator::XPath("//button[text()='Take back']"))
        .await;
    session
        .until("#looks .look h3", |text| text == before)
        .await;
    session
        .touch(Locator::XPath("(//article)[1]//button[text()='Yes']"))
        .await;
    session
        .until("#looks .look h3", |text| text != before)
        .await;
    let here = session.path().await;
    let order = session.text(".starts").await;
    session.client.refresh().await.expect("reloaded");
    assert_eq!(session.path().await, here);
    assert_eq!(session.text(".starts").await, order);
    session.touch(Locator::Css("#called .answers button")).await;
    session
        .until("#called p", |text| text.starts_with("Your call"))
        .await;
    session
        .touch(Locator::XPath("//button[text()='To the plan']"))
        .await;
    session.until_path("/plan?").await;
    session.fits_its_width().await;
    session
        .touch(Locator::LinkText("The student\u{2019}s page"))
        .await;
    session.until_path("/sheet?").await;
    session.until("h1", |text| text == "Your golf plan").await;
    session.fits_its_width().await;
}

#[test]
fn a_lesson_by_keyboard_on_a_tablet() {
    in_browser(TABLET, true, by_keyboard);
}

#[test]
fn a_lesson_by_keyboard_on_a_tablet_without_script() {
    in_browser(TABLET, false, by_keyboard);
}

#[test]
fn a_lesson_by_keyboard_on_a_phone() {
    in_browser(PHONE, true, by_keyboard);
}

#[test]
fn a_lesson_by_touch_on_a_phone() {
    in_browser(PHONE, true, by_touch);
}

#[test]
fn a_lesson_by_touch_on_a_phone_without_script() {
    in_browser(PHONE, false, by_touch);
}

#[test]
fn a_lesson_by_touch_on_a_tablet() {
    in_browser(TABLET, true, by_touch);
}

#[test]
fn drills_are_found_as_one_types() {
    in_browser(PHONE, true, async |session| {
        session.goto("/drills").await;
        session.tab_to("words").await;
        session.type_in("chunked wedges").await;
        let all = session
            .until("#results [data-say]", |text| text.contains("drill"))
            .await;
        session.touch(Locator::Css(".filters summary")).await;
        session
            .touch(Locator::XPath("//label[input[@id='place-home']]"))
            .await;
        session
            .until("#results [data-say]", |text| text != all)
            .await;
        assert!(session.path().await.contains("place=home"));
        session.touch(Locator::Css("#results h2 a")).await;
        session.until_path("/show/").await;
        session.until("h1", |text| !text.is_empty()).await;
        session.fits_its_width().await;
    });
}

#[test]
fn the_students_page_prints_on_one_sheet() {
    in_browser(TABLET, true, async |session| {
        session
            .goto("/sheet?note=weak+slice,+pulls+the+short+irons,+divots+point+in&handed=right")
            .await;
        let paper = session.paper().await;
        let text = String::from_utf8_lossy(&paper);
        let pages = text.matches("/Type /Page\n").count() + text.matches("/Type /Page ").count();
        assert_eq!(pages, 1);
    });
}
