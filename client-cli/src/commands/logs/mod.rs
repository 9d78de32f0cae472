//! What is logged: food, signs, looks, jobs, notes. Logs change no state. Readings of the water are logs too, and stand
//! with what is read of them in `water`.

mod about;
mod food;
mod incident;
mod job;
mod look;
mod note;
mod sign;
mod treatment;

pub use incident::find_incident;

super::verbs! {
    /// `tarn food …`
    Food {
        /// Food was given
        Given(food::Given),
    }
}
super::verbs! {
    /// `tarn sign …`
    Sign {
        /// Something looked wrong
        Seen(sign::Seen),
    }
}
super::verbs! {
    /// `tarn treatment …`
    Treatment {
        /// A water is treated from now on
        Begin(treatment::Begin),
        /// A treatment is over
        End(treatment::End),
    }
}
super::verbs! {
    /// `tarn incident …`
    Incident {
        /// Something failed
        Seen(incident::Seen),
    }
}
super::verbs! {
    /// `tarn look …`
    Look {
        /// The fish were looked at
        Done(look::Done),
    }
}
super::verbs! {
    /// `tarn job …`
    Job {
        /// Work was done
        Done(job::Done),
    }
}
super::verbs! {
    /// `tarn note …`
    Note {
        /// In your own words
        Write(note::Write),
    }
}
