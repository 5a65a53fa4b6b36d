//! A gallery of bad files, each with every word that is said about it.
