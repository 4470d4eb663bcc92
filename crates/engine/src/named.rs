//! Enums whose variants have names in files.

/// An enum with `NAMES`, all variants with their names in files, and `name`.
macro_rules! named {
    (
        $(#[$meta:meta])*
        pub enum $name:ident {
            $($(#[$variant_meta:meta])* $variant:ident = $text:literal),* $(,)?
        }
    ) => {
        $(#[$meta])*
        pub enum $name {
            $($(#[$variant_meta])* $variant),*
        }

        impl $name {
            /// All, with their names in files.
            pub const NAMES: &'static [(&'static str, Self)] = &[$(($text, Self::$variant)),*];

            /// Its name in files.
            pub fn name(self) -> &'static str {
                match self {
                    $(Self::$variant => $text),*
                }
            }
        }
    };
}
pub(crate) use named;
