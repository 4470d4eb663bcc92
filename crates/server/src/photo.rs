//! Photos as they are kept: turned upright, no larger than a page shows, and without anything but
//! the picture: place and device are gone with the rest of what a camera writes.

use crate::problem::Problem;
use axum::http::StatusCode;
use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageReader, Limits};
use std::io::Cursor;

/// Largest upload, bytes.
pub(crate) const LARGEST: usize = 40 * 1024 * 1024;
/// Longest edge that is kept, pixels.
const EDGE: u32 = 2400;
/// Largest picture that is opened, pixels along an edge.
const EDGE_MOST: u32 = 20_000;
/// Memory a picture may take while it is opened, bytes.
const MEMORY: u64 = 512 * 1024 * 1024;
const QUALITY: u8 = 82;

/// A photo as it is kept: JPEG.
pub(crate) fn cleaned(bytes: &[u8]) -> Result<Vec<u8>, Problem> {
    let wrong = |e: &dyn std::fmt::Display| {
        let refused = Problem::new(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "Not a photo that can be kept",
            format!("it cannot be read: {e}"),
        );
        refused.hint("take it again, or save it as JPEG, PNG or WebP")
    };
    let mut reader =
        ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|e| wrong(&e))?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(EDGE_MOST);
    limits.max_image_height = Some(EDGE_MOST);
    limits.max_alloc = Some(MEMORY);
    reader.limits(limits);
    let picture = reader.decode().map_err(|e| wrong(&e))?;
    let upright = turned(picture, orientation(bytes));
    let small = if upright.width().max(upright.height()) > EDGE {
        upright.resize(EDGE, EDGE, image::imageops::FilterType::Triangle)
    } else {
        upright
    };
    let mut out = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut out, QUALITY);
    small.to_rgb8().write_with_encoder(encoder).map_err(|e| wrong(&e))?;
    Ok(out)
}

/// How the camera was held, 1 to 8 as in Exif; 1 when it does not say.
fn orientation(bytes: &[u8]) -> u32 {
    let read = exif::Reader::new().read_from_container(&mut Cursor::new(bytes));
    let field = read.ok().and_then(|e| {
        let field = e.get_field(exif::Tag::Orientation, exif::In::PRIMARY)?;
        field.value.get_uint(0)
    });
    field.unwrap_or(1)
}

fn turned(picture: DynamicImage, orientation: u32) -> DynamicImage {
    match orientation {
        2 => picture.fliph(),
        3 => picture.rotate180(),
        4 => picture.flipv(),
        5 => picture.rotate90().fliph(),
        6 => picture.rotate90(),
        7 => picture.rotate270().fliph(),
        8 => picture.rotate270(),
        _ => picture,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture of two by one, light on the left, with an Exif block: held on its side, and a
    /// place that is nobody's business.
    fn photo() -> Vec<u8> {
        let mut picture = image::RgbImage::new(64, 32);
        for (x, _, p) in picture.enumerate_pixels_mut() {
            *p = image::Rgb(if x < 32 { [250; 3] } else { [5; 3] });
        }
        let mut jpeg = Vec::new();
        let encoder = JpegEncoder::new_with_quality(&mut jpeg, 90);
        picture.write_with_encoder(encoder).unwrap();
        // TIFF: orientation 6, and a make
        let mut tiff = b"MM\0*\0\0\0\x08\0\x02".to_vec();
        tiff.extend(b"\x01\x0f\0\x02\0\0\0\x08\0\0\0\x26");
        tiff.extend(b"\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0");
        tiff.extend(b"SECRETS\0");
        let mut app1 = b"Exif\0\0".to_vec();
        app1.extend(tiff);
        let mut out = jpeg[..2].to_vec();
        out.extend([0xff, 0xe1]);
        out.extend(u16::try_from(app1.len() + 2).unwrap().to_be_bytes());
        out.extend(app1);
        out.extend(&jpeg[2..]);
        out
    }

    #[test]
    fn upright_and_without_what_the_camera_wrote() {
        let bytes = photo();
        assert_eq!(orientation(&bytes), 6);
        let kept = cleaned(&bytes).unwrap();
        assert!(
            !kept.windows(7).any(|w| w == b"SECRETS") && !kept.windows(4).any(|w| w == b"Exif")
        );
        let picture = image::load_from_memory(&kept).unwrap().to_luma8();
        assert_eq!(picture.dimensions(), (32, 64));
        // turned by a quarter to the right: the left is up
        assert!(picture.get_pixel(16, 10).0[0] > 200 && picture.get_pixel(16, 54).0[0] < 50);
    }

    #[test]
    fn what_is_no_photo_is_refused_in_words() {
        for bytes in [&b""[..], b"hello", &photo()[..200], b"\x89PNG\r\n\x1a\n"] {
            assert!(cleaned(bytes).is_err());
        }
        // a picture that would fill the memory
        let mut huge = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        huge.extend(60_000_u32.to_be_bytes());
        huge.extend(60_000_u32.to_be_bytes());
        huge.extend(b"\x08\x02\0\0\0\0\0\0\0");
        assert!(cleaned(&huge).is_err());
    }
}
