import { AMBIENT } from '../derived/ambient.js';
import { LOAD_FRACTION } from '../derived/load-fraction.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import type { Assessment, Result } from '../engine/assessment.js';
import { finite } from '../math/finite.js';
import { mean } from '../math/mean.js';
import { quantile } from '../math/quantile.js';
import type { Measure, Severity } from '../rules/rule.js';
import type { Covariates, DriveSummary, LogbookEntry, MeasureValue } from './entry.js';
import { fromDrives, fromResult } from './measured.js';
import { trackedId, trackedRow } from './tracked.js';

/** What the caller knows of a drive beside its assessment. */
export interface EntryFacts {
  readonly hash: string;
  readonly car: string;
  readonly recordedAt: string;
  /** Odometer (km) where the user gives it; else that of the recordings counts. */
  readonly distance?: number | undefined;
}

/**
 * What the logbook keeps of one assessed drive: measures, surroundings and a short summary; no samples, no positions, no
 * identification numbers.
 * @param drives the opened recordings of the assessment (`onDrive`): standard errors and surroundings are taken from them
 */
export function logbookEntry(assessment: Assessment, drives: readonly Drive[], facts: EntryFacts): LogbookEntry {
  return {
    hash: facts.hash,
    car: facts.car,
    recordedAt: facts.recordedAt,
    distance: facts.distance ?? odometerOf(assessment, drives),
    engineHours: engineHoursOf(drives),
    measures: measuresOf(assessment, drives),
    covariates: covariatesOf(drives),
    summary: summaryOf(assessment),
  };
}

function measuresOf({ results }: Assessment, drives: readonly Drive[]): MeasureValue[] {
  const found = new Map<string, MeasureValue>();
  for (const result of results) {
    if (!('measures' in result) || result.measures === undefined) continue;
    for (const [name, measure] of Object.entries(result.measures)) {
      const value = plain(result.rule, name, measure);
      if (value !== undefined) found.set(value.id, value);
    }
    for (const value of fromResult(result)) found.set(value.id, value);
  }
  for (const value of fromDrives(drives)) found.set(value.id, { ...found.get(value.id), ...value });
  // What is told more closely is not followed twice: each further course is a further chance of a false alarm.
  if (found.has('engine.oil-pressure.hotIdleReference')) found.delete('engine.oil-pressure.hotIdle');
  if ([...found.keys()].some((id) => id.startsWith('codes.monitor-results.margin.')))
    found.delete('codes.monitor-results.least');
  return [...found.values()]
    .filter(({ value }) => Number.isFinite(value))
    .sort((a, b) => (a.id < b.id ? -1 : a.id > b.id ? 1 : 0));
}

function plain(rule: string, name: string, { value, unit }: Measure): MeasureValue | undefined {
  if (typeof value !== 'number' || trackedRow(rule, name) === undefined) return undefined;
  return { id: trackedId(rule, name), value, standardError: null, samples: null, unit: unit ?? '1' };
}

/** Largest distance that a recording or read-out holds now, km; null when none does. */
function odometerOf({ results }: Assessment, drives: readonly Drive[]): number | null {
  const logged = Math.max(...drives.map((drive) => lastOf(drive, 'odometer')).filter(Number.isFinite));
  if (Number.isFinite(logged)) return logged;
  const distance = results.find(({ rule }) => rule === 'provenance.distance');
  const largest = distance !== undefined && 'measures' in distance ? distance.measures?.largest?.value : undefined;
  return typeof largest === 'number' ? largest : null;
}

/** h; null when no recording holds the running time of the engine over its life. */
function engineHoursOf(drives: readonly Drive[]): number | null {
  const hours = Math.max(...drives.map((drive) => lastOf(drive, 'operatingHours')).filter(Number.isFinite));
  return Number.isFinite(hours) ? hours : null;
}

function lastOf(drive: Drive, id: string): number {
  const values = drive.channel(id)?.values;
  if (values === undefined) return Number.NaN;
  for (let i = values.length - 1; i >= 0; i--) if (!Number.isNaN(values[i]!)) return values[i]!;
  return Number.NaN;
}

/** Means over the recordings, weighted by nothing: one drive is mostly one recording. */
function covariatesOf(all: readonly Drive[]): Covariates {
  const drives = all.filter(({ recording }) => recording.readOut === undefined);
  const average = (of: (drive: Drive) => number): number | null => {
    const values = drives.map(of).filter(Number.isFinite);
    return values.length === 0 ? null : values.reduce((sum, x) => sum + x, 0) / values.length;
  };
  return {
    ambientTemperature: average((drive) => {
      const ambient = drive.derive(AMBIENT);
      return isRefusal(ambient) || ambient.temperatureSource.startsWith('none') ? Number.NaN : ambient.temperature;
    }),
    load: average((drive) => {
      const load = drive.derive(LOAD_FRACTION);
      return isRefusal(load) ? Number.NaN : mean(finite(load.values));
    }),
    altitude: average((drive) => middle(drive, 'altitude')),
    fuel: average((drive) => middle(drive, 'ethanolContent') / 100),
  };
}

function middle(drive: Drive, id: string): number {
  const values = drive.channel(id)?.values;
  return values === undefined ? Number.NaN : quantile(values, 0.5);
}

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };

function summaryOf({ verdict, results }: Assessment): DriveSummary {
  const findings = results.filter(
    (result): result is Result & { outcome: 'finding'; severity: Severity } => result.outcome === 'finding',
  );
  return {
    level: verdict.level,
    coverage: verdict.coverage,
    index: verdict.index,
    findings: findings
      .map(({ rule, severity, summary }) => ({ rule, severity, summary }))
      .sort((a, b) => RANK[b.severity] - RANK[a.severity]),
    unproven: results.filter(({ outcome }) => outcome === 'unproven' || outcome === 'error').map(({ rule }) => rule),
  };
}
