// The shapes that the phone's scripts hand to each other; read by the TypeScript compiler only.
// Field names of what travels to and from the server are the protocol's own.

type LocalizedText = Record<string, string>;
type Verdict = "pass" | "fail" | "doubtful" | "missing" | "not_applicable";
type Severity = "critical" | "major" | "minor";
type Disposition = "release" | "rework" | "concession" | "hold" | "scrap";
type CheckKind = keyof typeof import("./phone/js/inspection/kinds.js").KINDS;
type Expression = number | [string, ...any[]];

// --- Checklists, as the server compiles them

interface Part {
  id: string;
  title: LocalizedText;
}

interface Step {
  id: string;
  trade: string;
  title: LocalizedText;
  /** What a learner is told of the step, with the reason. */
  key_points?: { do: LocalizedText; why: LocalizedText }[];
}

interface Fault {
  id: string;
  title: LocalizedText;
  side: "below" | "above" | null;
  /** What it looks like, by its name in the folder pictures. */
  picture?: string | null;
}

interface Option {
  id: string;
  title: LocalizedText;
  verdict: "pass" | "fail";
  fault: string | null;
  picture?: string | null;
}

interface Limits {
  lower: number | null;
  nominal: number | null;
  upper: number | null;
  accept_lower: number | null;
  accept_upper: number | null;
  twice_lower?: number | null;
  twice_upper?: number | null;
}

/** A check of any kind: fields of a kind are there when `kind` says so. */
interface Check {
  id: string;
  part: string;
  step: string;
  severity: Severity;
  kind: CheckKind;
  ask: LocalizedText;
  how: LocalizedText;
  caution: LocalizedText | null;
  when: Record<string, unknown>;
  faults: Fault[];
  picture?: string | null;
  asked_again?: LocalizedText | null;
  should_be_caught_by?: Record<string, string[]> | null;
  may_not_apply?: boolean | null;
  lasts_seconds?: number | null;
  tool?: string | null;
  after?: string[] | null;
  gauge?: boolean | null;
  /** Of a figure that a photo may give: of what, and which (a count has none). */
  photo?: "holes" | null;
  figure?: "margin" | "web" | "width" | null;
  unit: string;
  uncertainty: number;
  repeatability?: number | null;
  decision: "simple" | "guarded";
  guard_factor?: number | null;
  possible: { lower: number; upper: number };
  limits: Record<string, Limits>;
  n?: number;
  by?: "smallest" | "largest" | "mean" | "range";
  labels?: LocalizedText[];
  options: Option[];
  inputs: string[];
  expression: Expression;
}

interface Checklist {
  id: string;
  revision: number;
  title: LocalizedText;
  stage: string;
  /** Stages whose pieces, with serials of their own, are built into this one. */
  made_from?: string[];
  /** Earlier stages of this very piece, under the same serial. */
  same_serial?: string[];
  drawing: string;
  sizes: string[];
  /** Steps whose first piece of a day is checked before more are made. */
  first_piece?: string[];
  tools?: Part[];
  parts: Part[];
  steps: Step[];
  checks: Check[];
}

interface CompiledChecklist {
  hash: string;
  compiled: Checklist;
  /** What it shows otherwise than the reference's drawings of the same name. */
  drawings?: Record<string, string>;
}

// --- Answers and what they mean

interface Answer {
  mark?: string;
  values?: string[];
  option?: string;
  fault?: string;
  /** Further faults of the same check; it counts under the first one. */
  more_faults?: string[];
  /** How a tick was given: by itself, with others of its part, or when its time was up. */
  given?: "single" | "group" | "timed";
  /** Of a check that lasts: how long its load stood. */
  timed_s?: number;
  /** Where on the drawing, in thousandths of its width and height. */
  place?: [number, number];
  note?: string;
  photos?: string[];
  holes?: HolesPhoto;
}

/** A length in mm as it is stored, with its expanded uncertainty (k = 2). */
interface PhotoLength {
  value: string;
  uncertainty: string;
}

/** What an answer keeps of a photo: names of both pictures, what was proposed, and whether that is
 * the answer's value; then its uncertainty, but of a count. */
interface HolesPhoto {
  photo: string;
  overlay: string;
  proposal: {
    count: number;
    margin: PhotoLength;
    web: PhotoLength | null;
    widths: PhotoLength[];
    ruler: string;
    step: string;
  };
  is_taken: boolean;
  uncertainty?: string;
}

type Answers = Record<string, Answer>;

interface Judgement {
  verdict: Verdict;
  reason: string;
  value: number | null;
}

type Judgements = Record<string, Judgement>;

interface JudgeContext {
  size: string;
  batch: Record<string, unknown>;
}

// --- Records

interface InspectionBody {
  size: string;
  batch_attributes: Record<string, unknown>;
  started_at: string;
  crew: Record<string, string>;
  answers: Answers;
  verdicts: Record<string, Verdict>;
  disposition: { kind: Disposition; reason?: string };
  scope?: "critical";
  /** Serials of the pieces built in, by the stage at which they are inspected themselves. */
  made_from?: Record<string, string>;
  /** Who repaired what failed before: artisan by check. */
  reworked_by?: Record<string, string>;
}

interface EventFields {
  kind: string;
  inspector: string;
  batch?: string | null;
  stage?: string | null;
  stove?: string | null;
  checklist?: string | null;
  checklist_hash?: string | null;
  corrects?: string | null;
  photos?: string[];
  /** Its shape is the kind's. */
  body: any;
}

interface SealedEvent extends Required<EventFields> {
  id: string;
  hash: string;
  device_id: string;
  dev_seq: number;
  captured_at: string;
  tz_min: number;
  app_build: string;
}

interface EventSources {
  now: () => number;
  random: (count: number) => Uint8Array<ArrayBuffer>;
  digest: (bytes: BufferSource) => Promise<string>;
}

/** signature: of the phone that made it, over its hash; absent where that had no key. */
interface SignedEvent {
  event: SealedEvent;
  signature?: string;
}

/** With which this phone signs; public_key: base64url of the point, as the server keeps it. */
interface SigningKey {
  private_key: CryptoKey;
  public_key: string;
}

/** A record as this phone keeps it. Origins: own; relay (of another phone's file); other (pulled). */
interface EventRow {
  id: string;
  key: string | null;
  event: SealedEvent;
  origin: "own" | "relay" | "other";
  state: "unsent" | "relay" | "sent" | "shown";
  outcome?: string;
  reason?: StoredReason;
  seq?: number;
  /** Of another phone's record, as it came with it; its own are signed when they are sent. */
  signature?: string;
}

/** What a batch knows of one of its stoves (store/projection.js). */
interface StoveRow {
  batch: string;
  key: string;
  /** An inspection of it counts here. */
  is_done: boolean;
  /** It is in rework or held, by the last inspection, which is of this batch. */
  waits: boolean;
}

/** An inspection as it counts after every correction. */
interface Inspection {
  id: string;
  captured_at: string;
  inspector: string;
  device_id: string;
  batch: string;
  /** Its serial as it was typed then. */
  stove: string;
  checklist_hash: string;
  body: InspectionBody;
  corrected: number;
  photos: string[];
}

/** What the lead decided about a held stove. */
interface HoldDecision {
  by: string;
  at: string;
  kind: Disposition;
  reason: string;
}

interface StoveState {
  inspections: Inspection[];
  disposition: Disposition | null;
  /** Id of the last inspection's newest content. */
  newest: string | null;
  decided: HoldDecision | null;
  corrected_twice: boolean;
}

interface StoveRecord extends StoveState {
  rows: EventRow[];
}

// --- The yard's reference

interface Batch {
  code: string;
  title?: string;
  size: string;
  planned: number;
  is_open: boolean;
  attributes: Record<string, unknown>;
  crew?: Record<string, string>;
  serial_prefix?: string;
  checklist_ids: string[];
  sample?: { stage: string; serials: string[] };
}

interface Person {
  code: string;
  name: string;
  trades: string[];
  is_inspector: boolean;
}

interface Look {
  stove: string;
  repeat: number;
}

interface Study {
  id: string;
  title: string;
  checklist_hash?: string;
  size?: string;
  batch_attributes?: Record<string, unknown>;
  checks?: string[];
  orders: Record<string, Look[]>;
}

interface OpenStudy extends Study {
  left: Look[];
}

/** A picture or voice note of a step's lesson: qcapp/sync/reference.py. */
interface LessonPart {
  kind: "picture" | "voice";
  sha256: string;
  type: string;
  size: number;
  caption: string;
  /** Kept for no signal. */
  is_kept: boolean;
}

/** A template or gauge as the server asks for it: qcapp/sync/reference.py. */
interface GaugeAsked {
  id: string;
  held_against: string;
  kind: "template" | "gauge";
  name: string;
  /** The work it is for, or the tool of the checklists that it is. */
  step: string | null;
  tool: string | null;
  /** Who shares a template; empty for all. */
  artisans: string[];
  piece: string;
  unit: string;
  lower: number;
  value: number;
  upper: number;
  interval_days: number;
  checked_at: string | null;
  is_outside: boolean;
  due_on: string;
  voided: string[];
}

interface GaugeState extends GaugeAsked {
  isOutside: boolean;
  dueOn: string;
  isDue: boolean;
  isLate: boolean;
}

interface Reference {
  tag: string;
  yard: { name: string };
  people: Person[];
  batches: Batch[];
  checklists: CompiledChecklist[];
  drawings: Record<string, string>;
  studies?: Study[];
  second_looks?: { stove: string; but_inspector: string }[];
  gauges?: GaugeAsked[];
  /** By step. */
  lessons?: Record<string, LessonPart[]>;
}

/** What the first screen needs of it. */
type Home = Omit<Reference, "checklists" | "drawings">;

// --- The inspection being made

/** Where the draft stands. */
interface DraftPlace {
  part: string | null;
  check: string | null;
  screen?: "review";
  sheet?: boolean | "second-reading";
}

interface Draft {
  key: string;
  kind: "inspection" | "correction" | "study_answer" | "first_piece";
  stage: string | null;
  stove: string;
  batch: string;
  size: string;
  batch_attributes: Record<string, unknown>;
  checklist: string;
  checklist_hash: string;
  /** A practice has none. */
  inspector: string;
  crew: Record<string, string>;
  made_from?: Record<string, string>;
  started_at: string;
  is_short: boolean;
  answers: Answers;
  carried: string[];
  at: DraftPlace;
  is_open: boolean;
  is_practice?: boolean;
  corrects?: string;
  look?: Look & { study: string };
  first_piece?: { step: string; maker: string; reason: "day" | "new_tool" | "set_right" };
  checks?: string[];
  typed?: { index: number; text: string } | null;
  choice?: { kind?: Disposition; reason?: string };
  reason?: string;
  photo_awaited?: string;
  /** Who repaired what failed before: artisan by check. */
  reworked_by?: Record<string, string>;
  /** English texts of the cautions that were read on this stove. */
  cautions?: string[];
  /** The clock of a check that lasts. */
  timer?: { check: string; started_at: string };
  /** What it was before the last answer, or before the sheet that shows. */
  before?: Pick<Draft, "answers" | "carried" | "typed" | "timer" | "at">;
}

interface DraftFields {
  compiled: Checklist;
  hash: string;
  batch: Pick<Batch, "size"> & Partial<Batch>;
  stove: string;
  inspector?: string;
  crew?: Record<string, string>;
  made_from?: Record<string, string>;
  started_at: string;
}

interface DraftSummary {
  judgements: Judgements;
  missing: Check[];
  failing: Check[];
  failed: Check[];
  doubtful: Check[];
  unnamed: Check[];
  /** Said not to apply to this stove. */
  skipped: Check[];
  /** Passed before their time was up. */
  shortened: Check[];
  allowed: Disposition[];
  /** Chosen before anybody chooses; null where a person must. */
  proposed: Disposition | null;
}

type Stores = Record<string, IDBObjectStore>;

// --- Photos and this phone

interface Photo {
  sha256: string;
  type: string;
  bytes?: ArrayBuffer;
  thumb?: ArrayBuffer;
  state: "unsent" | "sent" | "refused" | "pruned";
  saved_at: string;
  sent_at?: string;
  reason?: StoredReason;
}

interface Device {
  device_id: string;
  dev_seq: number;
}

/** What the app must know before any screen shows. */
interface Known {
  meta: Record<string, any>;
  reference: Home | undefined;
  drafts: Draft[];
}

interface NotedCounts {
  device_id: string;
  created: number;
  acked: number;
  last_saved_at?: string;
}

interface Loss extends NotedCounts {
  lost: number;
  is_reported: boolean;
  is_seen: boolean;
}

// --- Talking to the server

interface Position {
  seq: number;
  chain: string;
}

interface CallOptions {
  method?: string;
  token?: string;
  json?: unknown;
  bytes?: ArrayBuffer;
  headers?: Record<string, string>;
  /** Whether the JSON is the answer to this very request; without it the answer has no body. */
  accepts?: (data: any) => boolean;
}

type CallKind =
  | "ok"
  | "not-connected"
  | "full"
  | "pair-again"
  | "too-large"
  | "wait"
  | "refused"
  | "offset"
  | "hidden"
  | "other-protocol";

interface CallAnswer {
  kind: CallKind;
  /** The server's JSON, held against `accepts`. */
  data?: any;
  offset?: number;
  ms?: number;
  timed_out?: boolean;
  wait_ms?: number | null;
  error?: { what: string; where?: string; todo?: string; reason?: StoredReason };
}

type SendPiece = (path: string, options: CallOptions) => Promise<CallAnswer>;

/** What the server shows of its log: qcapp/sync/protocol.py. */
interface LogProof {
  note: string;
  since: number | null;
  proof: string[];
}

/** A signed checkpoint as the phone keeps it, and when it was shown. */
interface KeptCheckpoint {
  note: string;
  at: string;
  origin: string;
  size: number;
  root: string;
}

/** A checkpoint that the server's log was not shown to continue. */
interface LogDoubt {
  kept: string;
  seen_at: string;
  at: string;
  is_told?: boolean;
  is_seen?: boolean;
}

interface Hello {
  protocol: number;
  server_id: string;
  head: Position;
  checklists: string[];
  reference_tag: string;
  log?: LogProof | null;
}

interface SyncResult {
  status: string;
  sent: number;
  left?: number;
  text_key: string;
  wait_ms?: number | null;
  error?: CallAnswer["error"];
}

interface SyncSession {
  /** What the server said of itself, once it was greeted. */
  hello: Hello;
  greetedAt: number;
  batchSize: number;
  failures: number;
  misses: number;
  lastResult: SyncResult | null;
  arePhotosAllowed: boolean;
}

/** One exchange under way. `deferred`: records that wait for the next one. */
interface SyncRun {
  sent: number;
  restores: number;
  deferred: Set<string>;
  contact_at: string | null;
  /** Something the server gave could not be kept here: there is no room. */
  isFull?: boolean;
  token?: string;
  device_id?: string;
  is_wifi_only?: boolean;
  signing_key?: SigningKey | null;
}

/** What the database says of itself. */
interface StoredStatus {
  unsent: number;
  relayed: number;
  created: number;
  on_server: number;
  photos: { waiting: number; refused: number; bytes: number };
  device_id: string;
  device_name?: string;
  last_contact_at?: string;
  is_wifi_only?: boolean;
  log_doubt?: LogDoubt;
}

interface SyncStatus extends StoredStatus {
  last_result: SyncResult | null;
}

// --- Screens

type Child = Node | string | null | undefined | false | 0;
type Children = Child | Child[] | Child[][];
type Attributes = Record<string, any>;
/** Why the server does not count or take something, as data: qcapp/sync/quarantine_reasons.py. */
interface StoredReason {
  code: string;
  params: Record<string, unknown>;
}

type WordParams = Record<string, unknown> & { n?: number };
type WordEntry = string | (Record<string, string> & { other: string });

/** The stove that is about to be inspected. */
interface StoveForm {
  batch: Batch;
  checklist: CompiledChecklist;
  crew: Record<string, string | null>;
  /** As typed, by stage; empty where it is not known. */
  made_from: Record<string, string>;
  serial: string;
  error?: string;
  /** The serial, as typed, that is asked about; the one that was said to be right. */
  asked?: string;
  sure?: string;
}

/** A first piece that may be checked: by whom it was made, on which batch. */
interface FirstPieceTask {
  batch: Batch;
  checklist: CompiledChecklist;
  step: Step;
  maker: string;
}

type FirstPieceStand = "open" | "stop" | "good";

interface SavedInspection {
  stove: string;
  kind: Disposition | null;
  study?: string;
  /** Of a first piece: whether more may be made. */
  first?: "good" | "stop";
  practised?: EventFields | false;
}

/** A checklist that is not published; drawings: SVG text by name. */
interface PractisedDraft extends CompiledChecklist {
  drawings: Record<string, string>;
}

interface App {
  build: string;
  hasUpdate: boolean;
  /** Once known; screens that need it are shown only then. */
  reference: Home;
  /** Of the reference, from loadDefinitions() on. */
  checklists: CompiledChecklist[];
  drawings: Record<string, string>;
  inspector: string;
  draft: Draft;
  compiled: Checklist;
  /** A draft that is walked in practice: kept in this page alone. */
  practised?: PractisedDraft | null;
  /** Drawing and pictures of the draft's checklist, by name. */
  shown: Record<string, string>;
  chosenBatch?: string;
  joinCode?: string;
  /** What was looked for last on the way to a stove. */
  search?: string;
  form?: StoveForm | null;
  saved?: SavedInspection;
  sent?: SyncResult;
  /** Check whose "how" is open, and whose caution, once read, is. */
  howOf?: string | null;
  cautionOf?: string | null;
  isSaving?: boolean;
  /** The last answer, as long as it may be undone. */
  answered?: { verdict: Verdict; text: string } | null;
  /** No vibration. */
  isStill?: boolean;
  /** The walk goes by tool, not by part. */
  isByTool?: boolean;
  /** Templates and gauges that are late, while an inspection is walked. */
  late?: GaugeState[];
  leaveNotice?: () => void;

  switchVersion: () => Promise<void>;
  now: () => string;
  openBatches: () => Batch[];
  batch: (code: string | undefined) => Batch | undefined;
  batchCode: () => string | undefined;
  personName: (code: string) => string;
  /** What is kept on this phone, or the draft that is practised. */
  checklistBy: (hash: string) => Checklist | Promise<Checklist>;
  /** SVG text of a drawing or picture by its name. */
  drawingOf: (name: string) => string | undefined;
  /** Newest revision of every checklist of the batch. */
  checklistsOf: (batch: Batch) => CompiledChecklist[];
  chooseInspector: (code: string) => Promise<void>;
  chooseBatch: (code: string) => Promise<void>;
  chooseLanguage: (tag: string) => Promise<unknown>;
  listPaused: () => Promise<Draft[]>;
  status: () => Promise<SyncStatus>;
  /** Begins a draft at its first open check, or goes on with the one this phone already has of that stove. */
  start: (draft: Draft) => Promise<void>;
  /** The draft at its first open check, in the order that is chosen. */
  moveToFirst: (compiled: Checklist, draft: Draft) => Promise<Draft>;
  resume: (draft: Draft) => Promise<void>;
  closeDraft: () => void;
  /** Stores that it is paused, and closes it. */
  leaveDraft: () => void;
  discardDraft: () => Promise<void>;
  /** Takes the draft and stores it behind earlier taps, but never a practice; says so when the phone does not keep it. */
  storeDraft: (draft: Draft) => void;
  /** Takes the draft and shows where it goes on. */
  showDraft: (draft: Draft) => void;
  /** Takes the draft and paints the screen again. */
  changeDraft: (draft: Draft) => void;
  /** When every tap so far is stored. */
  draftStored: () => Promise<void>;
  /** Runs what must be kept, true when it was; else a full screen says so and offers to try again. */
  attempt: (work: () => Promise<unknown>) => Promise<boolean>;
  go: (route: string) => void;
  refresh: (change?: Partial<App>) => Promise<void>;
  repaint: () => void;
  /** Marks and vibrates for the answer just given, which for a while may be undone. */
  showAnswer: (verdict: Verdict, text: string) => void;
  /** The draft as it was before the last answer or sheet, without photos taken since. */
  undo: () => Promise<void>;
  take: (known: Known) => void;
  showFirst: (known: Known & { counted: StoredStatus }) => Promise<void>;
  reload: () => Promise<void>;
  isDefined: () => boolean;
  loadDefinitions: () => Promise<void>;
}

// --- What browsers have and the compiler's own library lacks

interface Navigator {
  /** Safari: opened from the home screen. */
  standalone?: boolean;
  connection?: { type?: string };
}

/** A PIN by its hash, or the day that one was removed. */
interface Pin {
  salt?: Uint8Array<ArrayBuffer>;
  hash?: string;
  removed_at?: string;
}

type Pins = Record<string, Pin>;

// --- Holes by photo (static/phone/js/holes): the plane in mm, the picture in pixels

/** x to the right, y down. */
type Point = number[];
interface Grey {
  pixels: Uint8Array | Float32Array;
  width: number;
  height: number;
}

/** Connected pixels. area: how many; reach: root mean square from the middle; fill: 1 for an
 * ellipse, 0.95 for a parallelogram; stretch: long to short axis; corner: farthest pixel from the
 * middle by the spot's own covariance, squared: 4 for an ellipse, 6 for a parallelogram; isCut: at the
 * left or right edge of the picture. */
interface Spot {
  area: number;
  middle: Point;
  reach: number;
  fill: number;
  stretch: number;
  corner: number;
  isCut: boolean;
}

/** A spot in mm; radius: of a circle of its area; isRound: whether it may be a hole. */
interface Place {
  middle: Point;
  radius: number;
  reach: number;
  isRound: boolean;
}

/** terms: eight of the homography from the picture, whose half diagonal is the unit, to mm, and the
 * radial one; back: from mm to the picture; residual: standard deviation of a mark's coordinate, mm. */
interface Plane {
  terms: number[];
  back: number[];
  residual: number;
  middle: Point;
  unit: number;
}

/** grain: mm to a pixel in the picture's middle; tilt: degrees; distance of the camera: mm. */
interface Camera {
  grain: number;
  tilt: number;
  distance: number;
}

/** places: of the marks that were found. */
interface Frame extends Camera {
  plane: Plane;
  places: Point[];
}

/** blur: standard deviation of an edge, mm. */
interface View {
  picture: Grey;
  plane: Plane;
  grain: number;
  blur: number;
}

/** Fourier terms of the radius round the origin; good: share of the rays that agree. */
interface Outline {
  origin: Point;
  terms: number[];
  middle: Point;
  radius: number;
  good: number;
}

/** Where brightness steps along a ray and by how much. */
interface Edge {
  radius: number;
  height: number;
}

type Ends = [Point, Point];

/** ruler: measured length of the printed control ruler; step: height of the grate's face over the
 * frame; mm. */
interface HoleSetup {
  ruler: number;
  step: number;
}

/** A length in mm with its standard uncertainties, the expanded one (k = 2) and its ends in the
 * picture. */
interface Sure {
  value: number;
  uncertainty: number;
  parts: { plane: number; edge: number; height: number; print: number };
  line: Point[];
}

interface GrateFigures {
  holes: { x: number; y: number; width: Sure; margin: Sure }[];
  web: Sure | null;
  tilt: number;
  distance: number;
  blur: number;
  marks: number;
}

/** What the worker answers. */
type HoleAnswer = GrateFigures | { refused: string };

/** What a person did with a picture: took its figures, or types them. Both pictures are JPEG. */
interface HolesTaken {
  picture: Blob;
  overlay: Blob;
  proposal: GrateFigures;
  setup: HoleSetup;
  isTaken: boolean;
}

/** The screen of one picture: step, where a check of the open inspection asked for it. */
interface HolesVisit {
  app: App;
  step?: string;
  screen: HTMLElement;
  setup: HoleSetup;
}

interface Size {
  width: number;
  height: number;
}

type PutHoles = (visit: HolesVisit, actions: Children, ...content: Children[]) => void;
type HolesButton = (
  id: string,
  key: string,
  className: string,
  onclick: () => unknown,
  more?: object,
) => HTMLButtonElement;
type MeasureStage = (visit: HolesVisit, source: CanvasImageSource, size: Size) => Promise<void>;
type FiguresStage = (
  visit: HolesVisit,
  canvas: HTMLCanvasElement,
  picture: Blob,
  proposal: GrateFigures,
) => void;
/** Its two functions get the camera's track, or the error's name. */
type OpenCamera = (
  video: HTMLVideoElement,
  ready: (track: MediaStreamTrack) => unknown,
  failed: (error: string) => unknown,
) => void;
type DrawPicture = (source: CanvasImageSource, size: Size, longest?: number) => HTMLCanvasElement;
type DrawOver = (picture: HTMLCanvasElement, found: GrateFigures, worst: Sure) => HTMLCanvasElement;
/** The figures, or why there are none; never, once `sign` is off the page. */
type MeasurePicture = (jpeg: Blob, setup: HoleSetup, sign: Element) => Promise<HoleAnswer>;

type SumOf = <T>(list: T[], value: (one: T, at: number) => number) => number;
type Median = (values: number[]) => number;
/** Brightness between four pixels. */
type Sample = (picture: Grey, point: Point) => number;
/** Each pixel a mean of those round it, weighed by `share` less with every pixel away. */
type Smooth = (picture: Grey, share: number) => Grey;
/** The pixels with everything dark filled up that a square of 32 pixels does not fit in. */
type Close = (picture: Grey) => Grey["pixels"];
type Spread = (
  line: Grey["pixels"],
  step: number,
  pick: (a: number, b: number) => number,
) => Grey["pixels"];
/** Connected pixels that are wanted, at least and at most so many of them. */
type FindSpots = (
  picture: Grey,
  isWanted: (at: number) => boolean,
  least: number,
  most?: number,
) => Spot[];
type DescribeSpot = (members: number[], width: number) => Spot;
/** Long to short axis of an ellipse with these second moments. */
type StretchOf = (xx: number, xy: number, yy: number) => number;
type Distance = (one: Point, other: Point) => number;
/** Each row is coefficients and what they should sum to; not numbers where there is no solution. */
type LeastSquares = (rows: number[][]) => number[];
/** Middles of the marks, clockwise from the top left. Half a turn changes nothing. */
type ListMarks = (paper: "a4" | "letter") => Point[];
type ListEquations = (from: Point[], to: Point[]) => number[][];
/** Eight terms from four or more pairs of points. */
type FitHomography = (from: Point[], to: Point[]) => number[];
type Project = (terms: number[], point: Point) => Point;
/** The plane of places (mm) seen at points of a picture: a homography and one radial term. */
type FitPlane = (places: Point[], seen: Point[], size: { width: number; height: number }) => Plane;
/** A point of the picture to its place, or back. */
type Through = (plane: Omit<Plane, "residual">, point: Point) => Point;
/** By the middle of the picture, or mm to a pixel at another point. */
type FindCamera = (plane: Plane, point?: Point) => Camera;
/** Dark squares, likeliest first. */
type FindSquares = (picture: Grey) => Spot[];
/** Every so many of a list, in its order. */
type Choose = (list: Point[], count: number) => Point[][];
/** The spots that lie best as the marks of one of the sheets: which is each mark's, -1 for none;
 * far: their distances together, mm. */
type FindBest = (spots: Spot[], unit: number) => { marks: Point[]; found: number[]; far: number };
type Compare = (marks: Point[], lands: Point[]) => { found: number[]; far: number };
type FindFrame = (picture: Grey) => { refused: string } | Frame;
type Straighten = (picture: Grey, plane: Plane) => Grey;
/** least: mm2. */
type FindPlaces = (straight: Grey, isWanted: (at: number) => boolean, least: number) => Place[];
type FindHoles = (straight: Grey, levels?: number[]) => Place[];
/** 1, then cosine and sine of the angle, of twice and of three times it. */
type RayAt = (angle: number) => number[];
/** Where brightness rises (sign 1) or falls (-1) most along a ray from a place; range: mm. */
type FindSteps = (view: View, from: Point, ray: number[], range: number[], sign: number) => Edge[];
type RadiusAt = (terms: number[], ray: number[]) => number;
/** rows: a ray and the radius there. */
type FitSeries = (rows: number[][]) => { terms: number[]; good: number };
type TraceOutline = (view: View, middle: Point, range: number[], sign: number) => Outline | null;
type TraceHole = (view: View, spot: { middle: Point; radius: number }) => Outline | null;
/** From the circle of the outermost holes' middles outwards. */
type TraceRim = (view: View, holes: Place[]) => Outline | null;
type TraceHoles = (view: View, spots: Place[]) => Outline[];
/** A length between two places with its standard uncertainties and the expanded one, mm. */
type MeasureLength = (ends: Ends) => Sure;
type MeasureWith = (view: Camera & { plane: Plane }, setup: HoleSetup) => MeasureLength;
type PointOf = (outline: Outline, ray: number[]) => Point;
type Shorter = (one: Ends, other: Ends) => Ends;
type FindShortest = (hole: Outline, other: Outline) => Ends;
/** Standard deviation of the marks' edges, mm, by the slope of a Gaussian one. */
type FindBlur = (view: View & Frame) => number;
type MeasureGrate = (picture: Grey, setup: HoleSetup) => HoleAnswer;
type MeasureHoles = (view: View & Frame, setup: HoleSetup) => HoleAnswer;
type DescribeGrate = (
  holes: Outline[],
  rim: Outline,
  view: View & Frame,
  measure: MeasureLength,
) => GrateFigures;

// --- The drawing as a map (ui/drawing.js)

interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}
type PartStates = Partial<Record<string, Exclude<Verdict, "not_applicable">>>;
/** What a drawing shall show. */
interface Wanted {
  states: PartStates;
  part: string;
  isNear: boolean;
}
interface Drawing {
  source: string;
  svg: SVGSVGElement;
  strip: HTMLElement;
  marks: SVGGElement;
  whole: number[];
  boxes: Record<string, Box | null>;
  wanted?: Wanted;
  shown?: Wanted;
}

// --- The day's work (inspection/day.js)

/** One inspection of the day; isFirst: the stove's first one, wherever it was made. */
interface Seen {
  key: string;
  inspection: Inspection;
  isFirst: boolean;
}
type FindChecklist = (hash: string) => Checklist | undefined;
interface DayFault {
  compiled: Checklist;
  check: Check;
  stoves: Set<string>;
  faults: Set<string>;
}
interface MakerFault extends DayFault {
  maker: string;
  seen: Set<string>;
}
interface Judged {
  check: Check;
  verdict: Verdict | undefined;
}

// --- Screens

interface Route {
  name: string;
  params: string[];
  joinCode?: string;
}
/** Where a screen was left: what had the focus, how far it was scrolled. */
interface LeftAt {
  focused?: string;
  list?: string;
  scrolled: number;
}
/** What a value is held against. */
interface Target {
  limits: Limits;
  isMean: boolean;
  beside?: string;
}
type Inspected = Pick<InspectionBody, "size" | "batch_attributes" | "answers" | "crew">;
interface KnownStove {
  key: string;
  batch: Batch;
}
interface PaintedScreen {
  name: string;
  address: string;
  hash: string;
  asked?: string | false | null;
}
interface PageHead {
  title: string;
  back?: string | false | null;
  beside?: Child;
  actions?: Children;
  className?: string;
}
interface ListRow {
  mark?: Child;
  text: Child;
  under?: Children;
  onclick?: (() => unknown) | null;
  pressed?: boolean;
  isOneOfMany?: boolean;
  id?: string;
}
interface DrawingMap extends Wanted {
  source: string | undefined;
  label: string;
  onPick: (part: string) => void;
}
interface PictureTile {
  id: string;
  picture: Child;
  text: string;
  onclick: () => unknown;
  pressed?: boolean;
}
interface TypedReading {
  text: string | null;
  problem: string | null;
  judgement: Judgement | null;
}
interface PadKeys {
  press: (key: string) => () => unknown;
  accept: () => unknown;
  accepts: boolean;
  isWhole: boolean;
  photo?: (() => unknown) | null;
}
/** Of a scale (ui/ruler.js). */
interface ScaleRange {
  from: number;
  to: number;
}

// --- A push and what became of it (store/acknowledge.js)

interface PushOutcome {
  id?: string;
  outcome: string;
  reason?: StoredReason;
  seq?: number;
}
interface AskedPush {
  ids: Set<string>;
  have: Position | null;
}
