import type { Covariates, LogbookEntry, LogbookNote } from '../entry.js';
import { dayOf, hasClock } from './calendar.js';

/** One drive with its place in time. */
export interface DatedEntry {
  readonly entry: LogbookEntry;
  readonly day: number;
}

/** Drives that are looked at as one: those of up to three weeks, with no note between. */
export interface Look {
  readonly drives: readonly DatedEntry[];
  /** Mean day from 1970-01-01, and that of the last drive. */
  readonly day: number;
  readonly last: number;
  /** Mean of the known odometers in km and engine hours; NaN when none is. */
  readonly distance: number;
  readonly engineHours: number;
  /** Notes (by place in the sorted list) that lie before this look. */
  readonly notes: number;
  readonly covariates: Readonly<Record<keyof Covariates, number>>;
}

/** A note with its place in time. */
export interface DatedNote {
  readonly note: LogbookNote;
  readonly day: number;
}

/** Days of one look: drives closer than that share weather, fuel and road, and are one witness. */
const LOOK_DAYS = 20;

/** Entries of a readable date in the order of time; equal times in the order of their hashes; a hash counts once. */
export function datedEntries(entries: readonly LogbookEntry[]): { dated: DatedEntry[]; undated: LogbookEntry[] } {
  const seen = new Set<string>();
  const dated: DatedEntry[] = [];
  const undated: LogbookEntry[] = [];
  for (const entry of entries) {
    if (seen.has(entry.hash)) continue;
    seen.add(entry.hash);
    const day = dayOf(entry.recordedAt);
    if (Number.isNaN(day)) undated.push(entry);
    else dated.push({ entry, day });
  }
  dated.sort((a, b) => a.day - b.day || (a.entry.hash < b.entry.hash ? -1 : 1));
  return { dated, undated };
}

/** Notes of a readable date in the order of time. */
export function datedNotes(notes: readonly LogbookNote[]): DatedNote[] {
  return notes
    .map((note) => ({ note, day: dayOf(note.date) }))
    .filter(({ day }) => !Number.isNaN(day))
    .sort((a, b) => a.day - b.day || (key(a.note) < key(b.note) ? -1 : 1));
}

function key({ kind, text, distance }: LogbookNote): string {
  return `${kind} ${distance ?? ''} ${text}`;
}

/**
 * True when the drive came after the work: by the date; on one day by the times when both tell one, else by odometers
 * when both are known and differ. A drive of the same day that nothing orders counts as before it.
 */
function isAfter({ entry, day }: DatedEntry, { note, day: noted }: DatedNote): boolean {
  if (Math.floor(day) !== Math.floor(noted)) return day > noted;
  if (hasClock(entry.recordedAt) && hasClock(note.date)) return day > noted;
  if (entry.distance !== null && note.distance !== null) return entry.distance > note.distance;
  return false;
}

export function looksOf(dated: readonly DatedEntry[], notes: readonly DatedNote[]): Look[] {
  const looks: Look[] = [];
  let open: DatedEntry[] = [];
  let openNotes = 0;
  let passed = 0;
  const close = (): void => {
    if (open.length > 0) looks.push(lookOf(open, openNotes));
    open = [];
  };
  for (const drive of dated) {
    while (passed < notes.length && isAfter(drive, notes[passed]!)) passed++;
    if (open.length > 0 && (passed !== openNotes || drive.day - open[0]!.day > LOOK_DAYS)) close();
    openNotes = passed;
    open.push(drive);
  }
  close();
  return looks;
}

function lookOf(drives: readonly DatedEntry[], notes: number): Look {
  const mean = (pick: (entry: LogbookEntry) => number | null): number => {
    const known = drives.flatMap(({ entry }) => pick(entry) ?? []).filter(Number.isFinite);
    return known.reduce((sum, x) => sum + x, 0) / known.length;
  };
  return {
    drives,
    day: drives.reduce((sum, { day }) => sum + day, 0) / drives.length,
    last: drives.at(-1)!.day,
    distance: mean(({ distance }) => distance),
    engineHours: mean(({ engineHours }) => engineHours),
    notes,
    covariates: {
      ambientTemperature: mean(({ covariates }) => covariates.ambientTemperature),
      load: mean(({ covariates }) => covariates.load),
      altitude: mean(({ covariates }) => covariates.altitude),
      fuel: mean(({ covariates }) => covariates.fuel),
    },
  };
}
