import type { DriveSummary, LogbookNote, MeasureValue } from '@telltale/core';
import type { StoredDrive } from './book.js';

/** A drive as both stores hold it. */
export interface DriveRow {
  readonly hash: string;
  readonly label: string;
  readonly recorded_at: string;
  readonly distance: number | null;
  readonly engine_hours: number | null;
  readonly ambient_temperature: number | null;
  readonly load: number | null;
  readonly altitude: number | null;
  readonly fuel: number | null;
  readonly level: string;
  readonly coverage: number;
  readonly index_low: number;
  readonly index_high: number;
  /** JSON text. */
  readonly findings: string;
  readonly unproven: string;
  readonly file: string;
  readonly version: string;
  readonly added_at: string;
}

export interface NoteRow {
  readonly label: string;
  readonly date: string;
  readonly distance: number | null;
  readonly kind: string;
  readonly text: string;
}

/** Columns of a drive after its hash and car, in the order of the tables. */
export function rowOf(drive: StoredDrive): (string | number | null)[] {
  const { covariates, summary, provenance } = drive;
  return [
    drive.recordedAt,
    drive.distance,
    drive.engineHours,
    covariates.ambientTemperature,
    covariates.load,
    covariates.altitude,
    covariates.fuel,
    summary.level,
    summary.coverage,
    summary.index.low,
    summary.index.high,
    JSON.stringify(summary.findings),
    JSON.stringify(summary.unproven),
    provenance.file,
    provenance.version,
    provenance.addedAt,
  ];
}

/** @param measures of this drive, ascending by id */
export function driveOf(row: DriveRow, measures: readonly MeasureValue[]): StoredDrive {
  return {
    hash: row.hash,
    car: row.label,
    recordedAt: row.recorded_at,
    distance: row.distance,
    engineHours: row.engine_hours,
    measures,
    covariates: {
      ambientTemperature: row.ambient_temperature,
      load: row.load,
      altitude: row.altitude,
      fuel: row.fuel,
    },
    summary: {
      level: row.level as DriveSummary['level'],
      coverage: row.coverage,
      index: { low: row.index_low, high: row.index_high },
      findings: JSON.parse(row.findings) as DriveSummary['findings'],
      unproven: JSON.parse(row.unproven) as string[],
    },
    provenance: { file: row.file, version: row.version, addedAt: row.added_at },
  };
}

export function noteOf(row: NoteRow): LogbookNote {
  return {
    car: row.label,
    date: row.date,
    distance: row.distance,
    kind: row.kind as LogbookNote['kind'],
    text: row.text,
  };
}
