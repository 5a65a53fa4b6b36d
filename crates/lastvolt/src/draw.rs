//! Pictures as SVG, drawn by hand-set geometry and styled by the page that shows them.
