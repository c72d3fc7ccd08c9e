//! Drives off the main thread: first the setting, so that the truck can be seen and played, then what it hits.

use super::background::{Desk, Hurry, Wake, cores, pool, run_in, start_worker};
use super::document::Document;
use super::drive::{Drive, Setting, WantedSetting};
use super::motion::MotionSet;
use crate::findings::DriveFindings;
use crate::ground::{DriveError, drive};
use crate::truck::Truck;
use bevy::prelude::*;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};

type Job = (WantedSetting, Arc<Truck>);

enum Answer {
    Setting(Result<Arc<Setting>, DriveError>),
    Found(Result<Arc<DriveFindings>, DriveError>),
}

#[derive(Resource)]
struct Worker {
    desk: Desk<Job>,
    answers: Mutex<Receiver<(WantedSetting, Answer)>>,
    asked: Option<WantedSetting>,
}

/// Makes settings and drives.
pub struct DriveWorkerPlugin;

impl Plugin for DriveWorkerPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Wake>()
            .add_systems(Startup, start)
            .add_systems(Update, exchange.after(MotionSet));
    }
}

fn start(mut commands: Commands, wake: Res<Wake>) {
    let (sender, answers) = channel();
    let desk = Desk::default();
    let (own, waker) = (desk.clone(), wake.clone());
    start_worker("drive", move || answer_drives(&own, &sender, &waker));
    commands.insert_resource(Worker {
        desk,
        answers: Mutex::new(answers),
        asked: None,
    });
}

fn answer_drives(desk: &Desk<Job>, sender: &Sender<(WantedSetting, Answer)>, wake: &Wake) {
    let pool = pool(cores() / 2, Hurry::Yes);
    let send = |wanted: &WantedSetting, answer: Answer| {
        let sent = sender.send((wanted.clone(), answer)).is_ok();
        (wake.0)();
        sent
    };
    loop {
        let (wanted, truck) = desk.take();
        let make = || Setting::make(&truck, wanted.over.as_deref(), wanted.suspension);
        let made = run_in(&pool, make).map(Arc::new);
        if !send(&wanted, Answer::Setting(made.clone())) {
            return;
        }
        // While a value is dragged a newer job comes every frame: only one that stays is driven.
        if let Ok(setting) = made
            && let Some(course) = &setting.course
            && desk.is_empty()
        {
            let found = run_in(&pool, || drive(course)).map(Arc::new);
            if !send(&wanted, Answer::Found(found)) {
                return;
            }
        }
    }
}

fn exchange(document: Res<Document>, mut drive: ResMut<Drive>, mut worker: ResMut<Worker>) {
    let wanted = drive.wanted(&document);
    if worker.asked != wanted {
        if let Some(wanted) = &wanted {
            let job = (wanted.clone(), Arc::clone(document.truck()));
            worker.desk.put(job);
        }
        worker.asked.clone_from(&wanted);
    }
    let answers: Vec<(WantedSetting, Answer)> = {
        let receiver = worker
            .answers
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        receiver.try_iter().collect()
    };
    for (from, answer) in answers {
        // Another truck or obstacle was chosen since.
        if Some(&from) != wanted.as_ref() {
            continue;
        }
        match answer {
            Answer::Setting(made) => drive.receive_setting(from, made),
            Answer::Found(found) => drive.receive_findings(from, found),
        }
    }
}
