//! Drawings of small boards.
