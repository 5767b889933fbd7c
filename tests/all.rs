//! Every test in one program: it is linked once, and both cores stay busy to the end.

mod program;
mod random;

mod acidity;
mod cautions;
mod check;
mod chemistry;
mod cli;
mod cycle;
mod cycle_diary;
mod diary;
mod diary_cli;
mod diary_crash;
mod docs;
mod ec_limits;
mod ec_limits_own;
mod edges;
mod every_command;
mod examples;
mod findings;
mod laws;
mod ledger;
mod linear_programs;
mod mistakes;
mod own_products;
mod published;
mod reasons;
mod recipes;
mod remedies;
mod salt_table;
mod scale;
mod sheet;
mod stock;
mod switch;
mod switch_acid;
mod weighing;
