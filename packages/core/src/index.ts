/**
 * telltale core: the CSV logs of engine and transmission control units, judged.
 * The same steps as the command line, as functions: bytes -> recording -> assessment -> report.
 */
export type { ChannelDefinition } from './channels/index.js';
export { CHANNELS, findChannel, recogniseColumn, STATES, stateLabel, suggestChannel } from './channels/index.js';
export { type Amount, type Prices, readPrices } from './decision/prices.js';
export type { Drive } from './derived/recipe.js';
export { type GeneratedFile, generatedFiles } from './docs/generated-files.js';
export { type AssessOptions, assess } from './engine/assess.js';
export type * from './engine/assessment.js';
export { checkOverrides, type OverrideFault } from './engine/catalogue.js';
export { ABORT_CAUTIONS, GENERAL_CAUTIONS } from './engine/cautions.js';
export { closest, didYouMean } from './engine/did-you-mean.js';
export { openDrive } from './engine/drive.js';
export { explainColumns, type InputFile, load, type ReadOptions } from './engine/load.js';
export { readVehicle } from './engine/read-vehicle.js';
export {
  type ObservationAnswer,
  type ObservationHelper,
  type ObservationJob,
  observeShare,
} from './engine/shared-observation.js';
export {
  type BlobSource,
  type ByteSource,
  type ChunkFlags,
  type ChunkJob,
  type ColumnSummary,
  type Fill,
  type ReadingHelper,
  readChunks,
  readTable,
  type SummaryResult,
  summariseTable,
} from './ingest/index.js';
export {
  type CarReport,
  type Course,
  type CourseState,
  carReport,
  type DateRange,
  type FleetLine,
  type FleetReport,
  fleetLine,
  fleetReport,
  type Range,
  type Since,
} from './logbook/car-report.js';
export { carCourses } from './logbook/courses.js';
export { type CarDue, type DueList, dueFor, dueList, type FluidLife, type NextRecording } from './logbook/due.js';
export type {
  Covariates,
  DriveSummary,
  LogbookEntry,
  LogbookNote,
  MeasureValue,
  NoteKind,
  TrackedMeasure,
} from './logbook/entry.js';
export { NOTE_KINDS } from './logbook/entry.js';
export { type EntryFacts, logbookEntry } from './logbook/entry-of.js';
export { trackedMeasure } from './logbook/tracked.js';
export type * from './logbook/trend/index.js';
export { trendsOf } from './logbook/trend/index.js';
export { type Bounds, wilsonInterval } from './math/count-interval.js';
export type { Plan, PlannedChannel, PlannedPhase, PlannedReadOut } from './plan/plan.js';
export { planFor } from './plan/plan.js';
export type { Figure, LimitLine, Mark, Panel, Trace } from './plots/figure.js';
export { type Plots, plotsOf } from './plots/plots.js';
export { type Spark, sparksOf } from './plots/sparks.js';
export { buildRecording } from './recording/build.js';
export { readColumnMap } from './recording/map-file.js';
export type { InputFault, Problem } from './recording/problem.js';
export type { ColumnMap, Dialect, RawColumn, RawTable, TimeFormat } from './recording/raw.js';
export type { Certainty, Channel, ColumnReport, Interval, Place, Quality, Recording } from './recording/recording.js';
export { redact } from './redaction/redact.js';
export { assessmentDocument } from './report/assessment-document.js';
export { columnsDocument } from './report/columns-document.js';
export type { Block, Line, Span, Tone } from './report/document.js';
export { dueDocument } from './report/due-document.js';
export { clock, number } from './report/format.js';
export { renderHtml } from './report/html.js';
export { toJson } from './report/json.js';
export { carDocument, fleetDocument } from './report/logbook-document.js';
export { renderMarkdown } from './report/markdown.js';
export { analyserPage } from './report/page/analyser-page.js';
export { assessmentPage, type PageOptions, type ReportParts, reportParts } from './report/page/assessment-page.js';
export { carPage, fleetPage } from './report/page/logbook-page.js';
export type { LiveFigure, PlotData } from './report/page/plot-data.js';
export { shortlistPage } from './report/page/shortlist-page.js';
export { verificationPage } from './report/page/verification-page.js';
export { planDocument } from './report/plan-document.js';
export { ruleDocument, rulesDocument } from './report/rules-document.js';
export { shortlistDocument } from './report/shortlist-document.js';
export { type Paint, renderText, type TextOptions } from './report/text.js';
export { verificationDocument } from './report/verification-document.js';
export { type TableFile, verificationTables } from './report/verification-tables.js';
export { RULES } from './rules/index.js';
export { ruleRecord } from './rules/record.js';
export type { Judgement, Limit, LimitDefinition, Measure, Rule, RuleEvent, Severity, System } from './rules/rule.js';
export type { Point, PointState, Seen } from './sheet/point.js';
export { POINTS } from './sheet/points.js';
export { emptySheet, readSheet } from './sheet/sheet.js';
export { type Candidate, type Shortlist, shortlistOf } from './shortlist/shortlist.js';
export { placeInSideFile, type SideFile, type SideFileFault } from './sidefiles/side-file.js';
export { type SideFileKind, sideFileKind } from './sidefiles/side-file-kind.js';
export { convert, findUnit } from './units/index.js';
export { readProfile } from './vehicle/profile.js';
export { type Fuel, type TransmissionKind, UNKNOWN_VEHICLE, type Vehicle } from './vehicle/vehicle.js';
export { coverageOf, indexOf, systemVerdicts, verdictOf } from './verdict/verdict.js';
export type { PullCurves } from './verify/curves.js';
export { type OwnLimits, readLimits } from './verify/limits-file.js';
export { readTargets, type Targets, type TargetTable } from './verify/targets-file.js';
export type * from './verify/verification.js';
export { type VerifyOptions, verify } from './verify/verify.js';
