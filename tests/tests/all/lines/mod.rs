//! Lines: the ancestry of a brood, what keepers publish of their stock, and who keeps a line together.

mod ancestry;
