import { basename } from 'node:path';
import { assess, type ColumnMap, type Drive, type LogbookEntry, logbookEntry, type Vehicle } from '@telltale/core';
import { openInput } from '../../files.js';
import { nameDate } from './name-date.js';

/** One drive to be assessed for the book: the recordings and read-outs that belong to it. Plain data, for a worker. */
export interface DriveJob {
  readonly paths: readonly string[];
  readonly hash: string;
  readonly car: string;
  readonly vehicle?: Vehicle | undefined;
  readonly map?: ColumnMap | undefined;
  readonly rate?: number | undefined;
  /** ISO 8601 date that the user gives; else the recording's own stamps count, else the date in the name of a file, else its time. */
  readonly date?: string | undefined;
  readonly fileTime: string;
  readonly distance?: number | undefined;
}

export type DriveAnswer =
  | {
      readonly ok: true;
      readonly entry: LogbookEntry;
      /** Nothing told the date but the time of the file. */
      readonly datedByFile: boolean;
      /** Inputs that could not be used, beside others that could. */
      readonly unusable: readonly Unusable[];
    }
  | { readonly ok: false; readonly unusable: readonly Unusable[] };

export interface Unusable {
  readonly path: string;
  readonly code: string;
  readonly message: string;
}

/** Assesses one drive. Never rejects for bad data. */
export async function assessDrive(job: DriveJob): Promise<DriveAnswer> {
  const drives: Drive[] = [];
  const inputs = [];
  for (const path of job.paths) inputs.push(await openInput(path));
  const assessment = await assess(inputs, {
    onDrive: (drive) => void drives.push(drive),
    ...(job.vehicle === undefined ? {} : { vehicle: job.vehicle }),
    ...(job.map === undefined ? {} : { map: job.map }),
    ...(job.rate === undefined ? {} : { rate: job.rate }),
  });
  const unusable = assessment.inputs.flatMap(({ error }, i) =>
    error === undefined ? [] : [{ path: job.paths[i]!, code: error.code, message: error.message }],
  );
  if (unusable.length === assessment.inputs.length) return { ok: false, unusable };
  const started = drives.map(({ recording }) => recording.startedAt).filter((each) => each !== undefined);
  const own = started.length === 0 ? undefined : new Date(1000 * Math.min(...started)).toISOString().slice(0, 19);
  const named = job.paths.map((path) => nameDate(basename(path))).find((each) => each !== undefined);
  const entry = logbookEntry(assessment, drives, {
    hash: job.hash,
    car: job.car,
    recordedAt: job.date ?? own ?? named ?? job.fileTime,
    distance: job.distance,
  });
  return {
    ok: true,
    entry,
    datedByFile: job.date === undefined && own === undefined && named === undefined,
    unusable,
  };
}
