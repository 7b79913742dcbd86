/** What a person saw at one point; `not-seen` = not looked at. The same words as the rules use. */
export type PointState = 'sound' | 'watch' | 'repair' | 'stop' | 'not-seen';

/** One thing that a recording cannot see. */
export interface Point {
  /** `topic.thing`, the key in the sheet. */
  readonly id: string;
  /** What to look at, and how. */
  readonly look: string;
  /** What makes it which. */
  readonly watch: string;
  readonly repair?: string;
  readonly stop?: string;
}

/** One filled-in point. */
export interface Seen {
  readonly point: string;
  readonly state: PointState;
  readonly note: string;
}
