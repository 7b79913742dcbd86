export interface ShiftRecord {
  readonly from: number;
  to: number;
  readonly gearBefore: number;
  readonly gearAfter: number;
  readonly pedal: number;
  /** True 10 % and 90 % of the change of ratio (s), NaN when never passed; engine side of the clutches over the axle. */
  t10: number;
  t90: number;
  /** rpm above the old ratio, and above the slip that it was held with, before it gave way; upshifts. */
  flare: number;
  /** When (s) it first stood half of that above; the start where it never did. */
  tHalf: number;
}
export interface EngagementRecord {
  /** Selector moved, clutch took up (s). */
  readonly asked: number;
  readonly engaged: number;
  readonly selector: 'D' | 'R';
  /** Seconds for which the drive let go again at standstill. */
  droppedOut: number;
}
