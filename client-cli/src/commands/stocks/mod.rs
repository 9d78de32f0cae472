//! Stocks: fish managed together.

mod add;
mod came_in;
mod count;
mod describe;
mod left;
mod list;
mod lost;
mod merge;
mod r#move;
mod sex;
mod show;
mod split;

super::verbs! {
    /// `tarn stock …`
    Stock {
        /// Fish that were here before the records
        Add(add::Add),
        /// Fish that came in from a shop, a person, the wild or a show
        CameIn(came_in::CameIn),
        /// What a stock is called and how it is kept
        Describe(describe::Describe),
        /// Into another tank, or into the bag
        Move(r#move::Move),
        /// Keep some apart from now on
        Split(split::Split),
        /// Put a stock together with another
        Merge(merge::Merge),
        /// What was counted
        Count(count::Count),
        /// Fish whose sex is now known
        Sex(sex::Sexed),
        /// Fish that died or vanished
        Lost(lost::Lost),
        /// Fish that left without a parcel
        Left(left::Left),
        /// The stock
        List(list::List),
        /// One stock
        Show(show::Show),
    }
}
