//! The pictures of the documentation, taken when they are asked for.

use crate::driver::{PHONE, TABLET, in_browser};
use std::path::Path;

/// `FAIRWHY_WRITE_DOCS=1 cargo test --test browser pictures` takes them anew.
#[test]
fn pictures_of_the_documentation() {
    if std::env::var_os("FAIRWHY_WRITE_DOCS").is_none() {
        return;
    }
    in_browser(PHONE, true, async |session| {
        let take = async |name: &str| {
            let file = Path::new(env!("CARGO_MANIFEST_DIR"))
                .join("docs")
                .join(name);
            std::fs::write(file, session.picture(false).await).expect("written");
        };
        session.goto("/lesson?note=thin+irons&handed=right").await;
        session
            .run("document.getElementById('looks').scrollIntoView({behavior: 'instant'})")
            .await;
        take("page-phone.png").await;
        session.resize(TABLET).await;
        session.goto("/lesson?note=weak+slice,+pulls+the+short+irons,+divots+point+in,+grip+is+fine&handed=right").await;
        take("page-tablet.png").await;
    });
}
