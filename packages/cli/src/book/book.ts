import type { LogbookEntry, LogbookNote } from '@telltale/core';

/** Where a stored drive came from. */
export interface Provenance {
  /** Base name of the recording; without identification numbers unless asked. */
  readonly file: string;
  /** Version of telltale that assessed it. */
  readonly version: string;
  /** ISO 8601, UTC. */
  readonly addedAt: string;
}

export interface StoredDrive extends LogbookEntry {
  readonly provenance: Provenance;
}

/** One car of the book in a line. */
export interface CarLine {
  readonly car: string;
  readonly drives: number;
  readonly notes: number;
  /** When its first and last drive were recorded; null without any. */
  readonly first: string | null;
  readonly last: string | null;
}

/**
 * The owner's book: what is kept of the drives of one car, or of a workshop's hundreds. Two stores stand behind it and pass the
 * same tests. Everything that is written is written whole or not at all; several processes may work at once.
 * Methods reject with UserError for what is the user's to mend (busy, damaged, read-only).
 */
export interface Book {
  /** What it is, for messages: never with a password. */
  readonly place: string;
  /** Cars that the given recordings are known under, by hash. */
  known(hashes: readonly string[]): Promise<ReadonlyMap<string, string>>;
  /** Adds drives in one transaction; those that are known already are left as they are. @returns hashes that were new */
  add(drives: readonly StoredDrive[]): Promise<readonly string[]>;
  /** By label. */
  cars(): Promise<readonly CarLine[]>;
  /** Oldest first; of one time by hash. */
  drives(car: string): Promise<readonly StoredDrive[]>;
  /** Oldest first. */
  notes(car: string): Promise<readonly LogbookNote[]>;
  /** @returns false when the same note stood there already */
  note(note: LogbookNote): Promise<boolean>;
  /** Removes a note. @returns whether it was there */
  removeNote(note: LogbookNote): Promise<boolean>;
  /** Vehicle profile of the car as JSON text, as last given. */
  profile(car: string): Promise<string | undefined>;
  setProfile(car: string, json: string): Promise<void>;
  /** Grows with everything that is written of the car; 0 for a car that the book does not hold. */
  revision(car: string): Promise<number>;
  /** What was kept of a computed report, where it is of the present revision and has this print; else undefined. */
  report(car: string, print: string): Promise<string | undefined>;
  /** Keeps a report of the revision that it was computed from; one of an older revision is dropped. */
  keepReport(car: string, revision: number, print: string, json: string): Promise<void>;
  /** Removes a car with all that is kept of it, or one drive. @returns how much went */
  forget(what: { readonly car: string; readonly hash?: string }): Promise<{ drives: number; notes: number }>;
  /** Key of this book for hashing identification numbers, hexadecimal. */
  secret(): Promise<string>;
  /** Takes over the key of another book, as a restored one does. */
  adoptSecret(secret: string): Promise<void>;
  /**
   * Writes the book as it stands at one moment into a new SQLite file, whatever others write meanwhile.
   * @param path a file that does not exist, or is empty
   */
  backup(path: string): Promise<void>;
  close(): Promise<void>;
}

export type Access = 'read' | 'write' | 'create';
