//! Wrong bench files.

use insta as _;
use proptest as _;
