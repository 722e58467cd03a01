/**
 * Every sentence the page shows, in one place.
 *
 * Plain, warm, exact; one vocabulary with the program and the files. A sentence with figures is a
 * function of them; figures come from `figures.ts`. Nothing here is markup: views set it as text.
 * Longer than 400 lines because every sentence stands in one place, to be read in one go.
 * Not here: what the core itself says (reasons, notices, failures), which is shown as it is told.
 */
import type { Stage } from "../planner/protocol.ts";
import type { Step } from "../planner/records.ts";
import type { Leaf, Phase } from "../state/state.ts";
import { bedSize, count, figure, handTime, mm, percent, seconds, size } from "./figures.ts";

type BedSize = { shape: "rect" | "round"; size_mm: readonly [number, number, number] };

const pieces = (n: number): string => count(n, "piece", "pieces");
const loads = (n: number): string => count(n, "load", "loads");

/** Leads from what a stage is called in the protocol to what is going on. */
const STAGES: Record<Stage, string> = {
  measuring: "Measuring the seams",
  laying: "Laying the pieces on the bed",
  auditing: "Reading every file again to check it",
};

/** What each step of mending does. */
const STEPS: Record<Step, string> = {
  weld: "joining points that nearly meet",
  duplicates: "dropping triangles that lie on another",
  "back-to-back": "dropping pairs of triangles back to back",
  junctions: "splitting edges at points on them",
  orient: "turning triangles that face the wrong way",
  walls: "leaving out walls inside",
  holes: "closing holes",
  sheets: "giving open skins a wall",
  dust: "dropping bodies that enclose nothing",
};

export const words = {
  page: {
    title_block: "Title block",
    after: (n: number): string => `after ${figure(n)}`,
    leaves: "Leaves of the costume",
    undo: "Undo",
    redo: "Redo",
    undo_steps: (n: number): string => `${figure(n)} undo`,
    paper: "Paper",
    blueprint: "Blueprint",
    close: "Back to the drawing",
    read: "Put away",
    notices: "Notices",
    notices_heading: "What this page is made with",
    /** What a field takes that was given something else. */
    asked: (least: number | undefined, most: number | undefined, is_whole: boolean): string => {
      const kind = is_whole ? "a whole number" : "a number";
      if (most !== undefined) return `${kind} from ${figure(least ?? 0, 1)} to ${figure(most)}`;
      return least === undefined ? kind : `${kind} above 0`;
    },
    no_planner: (why: string): string => `The planner could not be started in this browser: ${why}.`,
  },

  leaves: {
    costume: "Costume",
    wearer: "Wearer",
    beds: "Beds",
    seams: "Seams",
    loads: "Loads",
    sheet: "Sheet",
  } satisfies Record<Leaf, string>,

  later: {
    wearer: "This leaf will hold the wearer's measures and show, station by station, whether each item fits and goes on. It is not built yet.",
    sheet: "This leaf will hold the build sheet: every step from the first load to the last coat, to print and take to the bench. It is not built yet.",
  },

  demo: {
    name: "Demo costume",
    coming: "Laying out a demo costume …",
    failed: (why: string): string => `The demo costume could not be opened: ${why}. Your own models can be planned all the same.`,
    lead: "A costume this page brought along. Drop your own models onto the sheet and they take its place.",
  },

  costume: {
    heading: "What shall be made?",
    empty: "Drop the models of a helm, a breastplate, a sword onto this sheet, or choose their files. They stay in this browser; nothing is sent anywhere.",
    formats: "STL, OBJ, PLY, OFF and 3MF are read. Several files make one costume.",
    choose: "Choose models",
    add: "Add more models",
    open: "Open a project",
    clear: "Begin an empty costume",
    name_hint: "its name",
    reading: (name: string): string => `Reading ${name} …`,
    item: (mm_each: readonly number[], triangles: number): string => `${size(mm_each, 1)} · ${figure(triangles)} triangles`,
    called: (id: string): string => `${id} in the plan`,
    role: "worn as",
    no_role: "not said",
    pair: "a pair: also the mirrored other side",
    copies: "copies",
    size_by: "size",
    as_drawn: "as in the file",
    by_scale: "times",
    by_height: "mm high",
    by_volume: "cm³",
    value: "how much",
    stop_reading: (name: string): string => `Stop reading ${name}`,
    remove: (name: string): string => `Leave out ${name}`,
    remove_short: "Leave out",
    settings: (name: string): string => `How ${name} is made`,
    units_doubt: "Which unit is it drawn in?",
    units_taken: (unit: string, why: string): string => `Taken as ${unit}: ${why}.`,
    up_doubt: "Which axis of the file points up?",
    up_taken: (axis: string, why: string): string => `Taken as ${axis}: ${why}.`,
    too_large: (name: string): string => `${name} is larger than this page can read (2 GB).`,
    none_read: "None of these files could be read from the disk. Try choosing them again.",
  },

  flaws: {
    counted: (n: number, text: string): string => `${figure(n)} ${text}`,
    show_place: (n: number, of: number, text: string): string => `Show place ${figure(n)} of ${figure(of)}: ${text}`,
    mending: "where it is open",
    mends: { "as-it-looks": "close holes, give open skins a wall", fill: "close everything, solid inside", wall: "give it a wall", no: "leave it as it is" },
    wall: "wall",
    simplify: "simplify to",
    simplify_said: "Triangles it is simplified to",
    simplify_now: "Simplify to 1 million",
    without: "Without this step",
    without_label: (text: string): string => `Mend without this step: ${text}`,
    goes_without: (step: Step): string => `Mending goes without ${STEPS[step]}.`,
    do_again: "Do it again",
    do_again_label: (step: Step): string => `Mend with ${STEPS[step]} again`,
    unite: "one solid: unite bodies that overlap",
    wall_said: "Wall that an open skin gets",
    look: "What is in the file",
    look_into: (name: string): string => `What is in the file ${name}`,
    heading: "In the file",
    sound: "Nothing is wrong with it.",
    would: "Mending would do this; the file stays as it is:",
    fails: (why: string): string => `It cannot be mended: ${why}.`,
    draw_file: "draw it as in the file",
    put_away: "Put away",
    in_file: "in the file",
    as_planned: "as planned",
    triangles: "triangles",
    bodies: "bodies",
    open_edges: "open edges",
    volume: "volume",
    crossing: "crossing pairs",
    thinnest: "thinnest wall",
    n: (n: number): string => figure(n),
    cm3: (mm3: number): string => `${figure(mm3 / 1000, 1)} cm³`,
    mm: (value: number): string => `${figure(value, 2)} mm`,
  },

  beds: {
    heading: "Which beds can print it?",
    lead: "A piece may go on any of them. Sizes are what the printer can fill; the margin comes off on every side and at the top.",
    usual: "Usual sizes",
    own: "A bed of your own size",
    add: (bed: BedSize): string => `Add a bed of ${bedSize(bed)}`,
    width: "width",
    depth: "depth",
    height: "height",
    diameter: "diameter",
    round: "round",
    margin: "margin",
    gap: "gap between pieces",
    remove: (bed: BedSize): string => `Leave out the bed of ${bedSize(bed)}`,
    remove_short: "Leave out",
    keep_out: "Keep clear",
    keep_out_lead: "A corner the printer cannot use: where it begins from the front left, and how far it goes.",
    add_keep_out: "Keep a corner clear",
    remove_keep_out: (n: number): string => `Use again: area ${figure(n)}`,
    keep_out_short: "Use again",
    from_left: "from the left",
    from_front: "from the front",
    bed: (bed: BedSize): string => bedSize(bed),
    settings: (bed: BedSize): string => `Settings of the bed of ${bedSize(bed)}`,
    left: (mm_each: readonly number[]): string => `${size(mm_each, 1)} to use`,
    drawing: (bed: BedSize): string => `The bed of ${bedSize(bed)} from above`,
    problem: {
      size: "A bed measures more than 0 and at most 4 096 mm each way.",
      margin: "This margin leaves nothing of the bed to print on.",
      gap: "The gap is 0 mm or more.",
      "keep-out": "An area to keep clear lies within 4 096 mm of the bed's corner.",
    },
  },

  seams: {
    heading: "Where it is cut",
    nothing: "Nothing to cut yet. Begin with a model on the Costume leaf.",
    item: (mm_each: readonly number[], bed: BedSize, margin_mm: number, n_beds: number): string => {
      const beds = n_beds === 1 ? `bed ${bedSize(bed)}` : `${figure(n_beds)} beds`;
      return n_beds === 1 ? `${size(mm_each)} · ${beds}, margin ${figure(margin_mm, 1)}` : `${size(mm_each)} · ${beds}`;
    },
    beds: (bed: BedSize, margin_mm: number, n_beds: number): string =>
      n_beds === 1 ? `bed ${bedSize(bed)}, margin ${figure(margin_mm, 1)}` : `any of ${figure(n_beds)} beds`,
    items: (n: number): string => count(n, "item", "items"),
    all: "all items",
    show: "Drawn here",
    pieces,
    grid: (n: number): string => `the plain grid needs ${figure(n)}`,
    grid_same: "as many as the plain grid",
    so_far: "so far",
    proven: (n: number): string => `fewer than ${figure(n)} is impossible`,
    not_proven: (n: number): string => `at least ${figure(n)} are needed`,
    whole: "It fits a bed as it is, without a seam.",
    seam: (seam_mm: number): string => `${mm(seam_mm)} of seam`,
    seam_about: (seam_mm: number): string => `about ${mm(seam_mm)} of seam`,
    shows: (visible_mm: number): string => `${figure(visible_mm)} shows`,
    in_detail: (detail_mm: number): string => `${figure(detail_mm)} through detail`,
    finishing: (minutes: number): string => `about ${handTime(minutes)} to join, fill and sand`,
    held: (n: number): string =>
      n === 1 ? "1 piece stands only with supports." : `${figure(n)} pieces stand only with supports.`,
    not_fitting: (numbers: string): string => `No bed takes piece ${numbers} yet.`,
    grid_progress: (n_done: number, n_all: number): string => `Cutting the plain grid, ${figure(n_done)} of about ${figure(n_all)} cuts.`,
    curve: "Pieces of the costume as the search went on",
    curve_said: (first: number, last: number, took: number): string =>
      first === last
        ? `${pieces(last)} from the start, searched for ${seconds(took)}.`
        : `From ${pieces(first)} down to ${figure(last)} in ${seconds(took)}.`,
    least: "proven least",
    rounds: (round: number, candidates: number): string =>
      `round ${figure(round)} · ${count(candidates, "plane", "planes")} looked at`,
    prefer: "Rather",
    prefers: { balanced: "both weighed", fewest: "fewest pieces", hidden: "hidden seams" },
    seed: "seed",
    seconds: "search for",
    effort: (rounds: number): string => `The project fixes the work at ${count(rounds, "round", "rounds")}: the same plan on any machine.`,
    by_time: "Search by time instead",
    how: "How it is searched",
    items_and_how: "Items and search",
    pause: "Pause",
    go_on: "Go on",
    stop: "Stop and finish",
    give_up: "Stop now",
    given_up: "Stopped before it was finished. The models and what was decided are kept.",
    again: "Search again",
    pull: "Pull apart",
    pull_said: (pull_mm: number): string => `along the way they join · ${mm(pull_mm)}`,
    pull_together: "along the way they join · together",
    phase: {
      idle: "",
      reading: "Reading the models.",
      searching: "Searching for a better plan.",
      paused: "The search rests. Nothing is lost.",
      ending: "Finishing the best plan found.",
      finished: "Every file was read again and holds.",
    } satisfies Record<Phase, string>,
    stage: (stage: Stage): string => `${STAGES[stage]} …`,
    audit_failed: (n: number): string => `The audit found ${count(n, "fault", "faults")}; do not print this plan:`,
    failed: "This could not be planned:",
    model_failed: (name: string): string => `${name} could not be used:`,
    model_failed_then: "Nothing is planned until it is mended or left out.",
    guessed_unit: (name: string, unit: string): string => `${name} does not say its unit: ${unit} is a guess.`,
    guessed_up: (name: string, axis: string): string => `Which way ${name} stands is a guess: ${axis} points up.`,
    answer: "Answer",
    answer_for: (name: string): string => `Answer for ${name}`,
    others: "Or instead",
    other_time: (minutes: number): string => `about ${handTime(minutes)}`,
    other_detail: (detail_mm: number): string => `${mm(detail_mm)} detail`,
    other_held: (n: number): string => (n === 0 ? "no supports" : `${figure(n)} on supports`),
    older_beds: "This plan is for the beds as they were: one on the Beds leaf leaves nothing to print on.",
    replaced: (text: string): string => `${text} Its work was done again and nothing is lost.`,
  },

  card: {
    name: "What was chosen",
    seam: (a: number, b: number): string => `Seam between ${figure(a)} and ${figure(b)}`,
    piece: (number: number, id: string): string => `Piece ${figure(number)}, ${id}`,
    size: (mm_each: readonly number[]): string => size(mm_each, 1),
    unmeasured: "Its line is measured when the search has ended.",
    line: (line_mm: number): string => `${mm(line_mm)} long`,
    shows: (visible_mm: number): string => `${mm(visible_mm)} shows`,
    in_detail: (detail_mm: number): string => `${mm(detail_mm)} through detail`,
    wall: (wall_mm: number): string => `thinnest wall ${figure(wall_mm, 1)} mm`,
    minutes: (minutes: number): string => `about ${handTime(minutes)} to fill and sand`,
    keep: "Keep this seam",
    let_go: "Let it go",
    forbid: "No seam here",
    next_seam: "Next seam",
    stays: "It stays where it is in every plan.",
    one_cut: (n: number): string => `One cut makes it and ${count(n, "other seam", "other seams")}: they stay or go together.`,
    with_it: (n: number): string => `With it stay ${count(n, "seam", "seams")} it ends at.`,
    waits: "The plan is being made anew; in a moment it can be marked.",
    follows: "It follows the item it is a copy or the other side of; mark that one.",
    printed: "It is printed already",
    not_printed: "It is not printed",
    is_printed: "It stays as it is in every plan, with all seams round it.",
    print_keeps: "A piece that is printed stays as it is, with all seams round it; the rest is planned again.",
  },

  moving: {
    seam: (a: number, b: number): string => `Moving the seam between ${figure(a)} and ${figure(b)}`,
    added: (number: number): string => `A new seam through ${figure(number)}`,
    slide: "slide",
    turn: "turn",
    tilt: "tilt",
    pull: (measure: string): string => `Pull to ${measure} it`,
    looking: "Cutting it there \u2026",
    misses: "There it meets nothing to cut.",
    line: (line_mm: number, minutes: number): string => `${mm(line_mm)} long, about ${handTime(minutes)} to join, fill and sand.`,
    chalked: (chalked_mm: number): string => `${mm(chalked_mm)} lead through chalk.`,
    below: "One side",
    above: "The other side",
    fits: (side: string, sizes: readonly (readonly number[])[]): string => `${side} fits a bed: ${sizes.map((each) => size(each)).join("; ")}.`,
    needs: (side: string, n: number): string => `${side} needs about ${pieces(n)}.`,
    held: "It would stand only with supports.",
    set: "Set it here",
    leave: "Leave it as it was",
    move: "Move it",
    add: "Add a seam",
  },

  chalk: {
    off: "Chalk off",
    in: "Chalk in",
    rub: "Rub out",
    heading: { off: "No seam where you chalk", in: "A seam is welcome where you chalk", rub: "Rubbing chalk out" },
    radius: "radius",
    how: "Draw over the item. With Shift, two fingers or the arrow keys it is turned; Space chalks the middle of the drawing.",
    down: "Lay the chalk down",
  },

  marks: {
    seams: "Seams",
    seam: (a: number, b: number): string => `${figure(a)}–${figure(b)}`,
    seam_said: (a: number, b: number, is_kept: boolean): string => `Seam ${figure(a)}–${figure(b)}${is_kept ? ", stays" : ""}`,
    forbidden: (n: number): string => `${count(n, "seam is", "seams are")} not wanted where they were.`,
    allow: "Allow them again",
    on_model: (n: number): string => `${count(n, "mark", "marks")} on it: seams, chalk or pieces already printed.`,
    remove_all: "Remove all marks",
  },

  drawing: {
    name: "Drawing of the costume",
    how: "Arrow keys turn it, with Shift they move it; plus and minus bring it nearer and farther, 0 shows the whole.",
    whole: "Show the whole",
    fell: "The drawing stopped and was begun anew. Nothing is lost.",
    failed: "This browser cannot draw the pieces in the round: it has no WebGL 2, or its graphics stopped. Everything else works.",
    main_thread: "The drawing shares its thread with the page here, so turning large items may stutter.",
  },

  parts: {
    heading: "Parts list",
    open: "Parts list",
    piece: "Piece",
    load: "Load",
    mm: "mm",
    rests: "Rests",
    balloon: (number: number, id: string): string => `Piece ${number}, ${id}`,
    rest: { face: "flat", stable: "stands", held: "supports" },
    unfit: "fits no bed",
  },

  loads: {
    heading: "Lay plan",
    nothing: "Loads come when the search has ended and the pieces are laid on the bed.",
    lead: (gap_mm: string): string => `seen from above · ${gap_mm} between pieces · the small arrow is where the item's front faces`,
    load: (n: number): string => `Load ${figure(n)}`,
    used: (fraction: number, n: number): string => `${pieces(n)} · ${percent(fraction)} of the bed`,
    drawing: (n: number, n_pieces: number, bed: BedSize): string => `Load ${n}: ${pieces(n_pieces)} on the bed of ${bedSize(bed)}, from above`,
    list: "Loads and their pieces",
    pieces: "Pieces",
    used_head: "covers",
    sum: loads,
    total: (n_pieces: number, n_loads: number): string => `${pieces(n_pieces)} on ${loads(n_loads)}`,
    older: "These loads are from the plan before; the new ones come when the search has ended.",
  },

  title: {
    of: (name: string): string => `of ${name}`,
    costume: "costume",
    bed: "bed",
    kept: "kept here",
    not_kept: "not kept",
    keeping: "not yet",
    beds: (n: number): string => `${figure(n)} beds`,
  },

  step: {
    choose: "Choose models",
    to_seams: "See the seams",
    stop: "Stop and finish",
    to_model: "See to the model",
    to_beds: "See to the beds",
    take: "Take the pieces",
    take_loads: "Take the loads",
    taking: "Packing …",
    wait: "Reading …",
    finishing: "Finishing …",
  },

  take: {
    zip_name: (costume: string): string => `${costume}.zip`,
    project_name: (costume: string): string => `${costume}.seam.json`,
    save: "Save the project",
    open: "Open a project",
    safe: "This browser keeps the costume for now, but may drop it at any time. A project file is the only safe copy.",
    saved: (name: string): string => `${name} is saved with your downloads. Keep it: it is the only safe copy.`,
    took: (name: string): string => `${name} holds every piece, load and figure.`,
    failed: (why: string): string => `That did not work: ${why}.`,
    not_opened: (name: string, why: string): string => `${name} could not be opened: ${why}.`,
    opened: (n: number): string => `The project is open: ${count(n, "model", "models")}.`,
    after_plan: "A project can be saved once a plan is finished.",
  },

  report: {
    heading: "A report of what went wrong, to copy",
    holds: "It holds what was asked and what stopped; no model and no name of a file. Nothing is sent: copy it to whoever looks after this program.",
  },

  keep: {
    forked: "This costume is open in another tab too. What is done here is kept as a costume of its own, so that neither overwrites the other.",
    cannot: "This browser will not keep the costume. Save a project before you close the page.",
    lost_bytes: (name: string): string => `${name} was dropped by the browser; add the file again.`,
  },
} as const;
