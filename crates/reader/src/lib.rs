//! The engine in a page: a question in JSON in, an answer in JSON out.
//!
//! Three functions of WebAssembly's plain C interface, so that no generated glue has to match:
//! write the question (UTF-8) to what [`alloc`] gives, [`call`], read the answer, and give both
//! back to [`dealloc`]. An answer begins with its length, four bytes, the lowest first.

#![allow(
    unsafe_code,
    reason = "memory is handed over the border as a bare address and a length; nowhere else"
)]

/// Bytes before an answer that say how long it is.
const HEAD: usize = 4;

fn hand_over(bytes: Vec<u8>) -> *mut u8 {
    Box::into_raw(bytes.into_boxed_slice()).cast()
}

/// Memory for so many bytes.
#[unsafe(no_mangle)]
pub extern "C" fn alloc(len: usize) -> *mut u8 {
    hand_over(vec![0; len])
}

/// Gives memory back: a question's with its length, an answer's with its length and the four
/// bytes before it.
///
/// # Safety
/// `at` comes from [`alloc`] or [`call`], with the length it was made with, and is not used again.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn dealloc(at: *mut u8, len: usize) {
    let slice = std::ptr::slice_from_raw_parts_mut(at, len);
    // SAFETY: a boxed slice of this length was given away at this address, and comes back once.
    drop(unsafe { Box::from_raw(slice) });
}

/// Answers the question in so many bytes at an address.
///
/// # Safety
/// `at` comes from [`alloc`] with this length.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn call(at: *const u8, len: usize) -> *mut u8 {
    // SAFETY: `alloc` made so many bytes here, all of them initialised, and nobody writes meanwhile.
    let question = unsafe { std::slice::from_raw_parts(at, len) };
    let answer = document::answer(&String::from_utf8_lossy(question));
    let mut out = Vec::with_capacity(HEAD + answer.len());
    out.extend((answer.len() as u32).to_le_bytes());
    out.extend(answer.bytes());
    hand_over(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(question: &str) -> String {
        let at = alloc(question.len());
        // SAFETY: as the functions ask: each address with its length, once.
        unsafe {
            std::ptr::copy_nonoverlapping(question.as_ptr(), at, question.len());
            let answer = call(at, question.len());
            dealloc(at, question.len());
            let head = std::slice::from_raw_parts(answer, HEAD);
            let len = u32::from_le_bytes(head.try_into().unwrap()) as usize;
            let text = std::slice::from_raw_parts(answer.add(HEAD), len);
            let text = String::from_utf8(text.to_vec()).unwrap();
            dealloc(answer, HEAD + len);
            text
        }
    }

    #[test]
    fn a_question_crosses_the_border_and_an_answer_comes_back() {
        let question = r#"{ "ask": "check", "recipe": "title = \"ä\"" }"#;
        assert_eq!(asked(question), document::answer(question));
        let told: serde_json::Value = serde_json::from_str(&asked("")).unwrap();
        assert!(told["problem"]["detail"].as_str().unwrap().starts_with("this is not JSON"));
    }
}
