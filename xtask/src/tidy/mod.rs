//! Conventions of the repository that neither compiler nor lints know.
//!
//! Every check is a function from the files of the repository to complaints, so that each can be
//! shown to fail on a bad sample. The test at the end runs all of them on the repository itself.

mod code;
mod code_map;
mod data;
mod layers;
mod rules;
mod sources;
mod tree;

pub(crate) use tree::Tree;

/// Everything there is to complain about.
pub(crate) fn complaints(tree: &Tree) -> Vec<String> {
    let checks = [
        sources::opens_with_its_question,
        sources::forbidden_words,
        sources::too_long,
        layers::imports_against_the_order,
        code_map::disagreements,
        rules::without_a_page,
        data::models_without_source,
        data::unchecked_commands,
        data::broken_links,
    ];
    checks.iter().flat_map(|check| check(tree)).collect()
}

#[cfg(test)]
mod tests {
    use super::{Tree, complaints};

    #[test]
    fn the_repository_is_tidy() {
        let tree = Tree::read(crate::root()).unwrap();
        let found = complaints(&tree);
        assert!(found.is_empty(), "\n{}", found.join("\n"));
    }

    #[test]
    fn the_repository_was_really_read() {
        let tree = Tree::read(crate::root()).unwrap();
        assert!(
            tree.file("crates/lastvolt-core/src/lib.rs").is_some(),
            "the core's root file was not found"
        );
        assert!(tree.with_ending(".rs").count() > 30);
    }
}
