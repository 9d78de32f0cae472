//! The water: what was read and what it means, how much there is, and a label's rate multiplied. Proposes nothing.

mod ammonia;
mod list;
mod one;
mod parasites;
mod rate;
mod read;
mod show;
mod volume;

super::verbs! {
    /// `tarn water …`
    Water {
        /// Values were measured
        Read(read::Read),
        /// The newest readings of every water, and what they mean
        List(list::List),
        /// One water: readings over time
        Show(show::Show),
        /// How much water there is, gross and net, and how that is known
        Volume(volume::Volume),
        /// The un-ionised part of total ammonia, the part that harms
        Ammonia(ammonia::Ammonia),
        /// A label's rate, as you type it, times a net volume
        Rate(rate::Rate),
        /// How long parasites' stages last, where a source says so
        Parasites(parasites::Parasites),
    }
}
