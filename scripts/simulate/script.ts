/** What the driver does, one after the other. Speeds in km/h, times in s, grades as rise per run, acceleration in m/s2. */
export interface PhaseCommon {
  /** Road slope during the phase (default 0). */
  readonly grade?: number;
  /** Greatest tyre friction coefficient during the phase (default from the drive). */
  readonly grip?: number;
  /** Name by which a fault finds its phase; the phase is repeated until that fault has run its course. */
  readonly tag?: string;
}
export type Phase = PhaseCommon &
  (
    | { readonly kind: 'coldStart'; readonly keyOn?: number; readonly duration: number }
    | { readonly kind: 'idle' | 'hotIdle'; readonly duration: number; readonly selector?: 'P' | 'N' | 'D' }
    | { readonly kind: 'selectorExercise'; readonly repeats: number; readonly hold?: number }
    | { readonly kind: 'town'; readonly duration: number; readonly limit?: number }
    | { readonly kind: 'gentleGears'; readonly to: number; readonly acceleration?: number }
    | { readonly kind: 'cruise' | 'motorway'; readonly speed: number; readonly duration: number }
    | {
        readonly kind: 'rollingAcceleration';
        readonly from: number;
        readonly to: number;
        readonly acceleration: number;
        readonly repeats: number;
      }
    | {
        readonly kind: 'pull';
        readonly gear: number;
        readonly fromRpm: number;
        readonly toRpm: number;
        readonly pedal?: number;
      }
    /** Part pedal (default 0.79) in a high gear from low speed: full of load, no hard use. */
    | {
        readonly kind: 'lug';
        readonly gear: number;
        readonly fromRpm: number;
        readonly toRpm: number;
        readonly pedal?: number;
      }
    | { readonly kind: 'launch'; readonly to: number; readonly hold?: number }
    | {
        readonly kind: 'circuit';
        readonly duration: number;
        readonly top?: number;
        readonly corner?: number;
        /** m/s2 of its brakings, at least (default 6.4) and at most (default 8). */
        readonly braking?: readonly [number, number];
        /** m/s2 that the driver asks for out of corners (default 3 to 4.5): more than the car has is the pedal on the floor. */
        readonly acceleration?: readonly [number, number];
        /** m/s2 sideways while the speed of a corner is held, to both sides in turn (default none). */
        readonly lateral?: number;
        /** Gears by hand that keep the engine at high speed in corners. */
        readonly sporting?: boolean;
      }
    /** Slow turns to both sides at a share (default 0.96) of the lock. */
    | { readonly kind: 'fullLock'; readonly duration: number; readonly share?: number }
    | { readonly kind: 'coast'; readonly to: number; readonly neutral?: boolean }
    | { readonly kind: 'cycle'; readonly speeds: ArrayLike<number>; readonly interval?: number }
    | { readonly kind: 'stop'; readonly deceleration?: number; readonly stand?: number }
    | { readonly kind: 'briskPullAway'; readonly acceleration: number; readonly to: number }
    | { readonly kind: 'hillStart'; readonly slope: number; readonly to: number }
    | { readonly kind: 'revInNeutral'; readonly rpm: number; readonly times: number }
    | { readonly kind: 'creep'; readonly duration: number }
    | { readonly kind: 'wheelspinIce'; readonly friction: number; readonly duration: number }
    | { readonly kind: 'tipIn'; readonly times: number }
    /** Stays at the limiter with the pedal down, in a gear. */
    | { readonly kind: 'limiter'; readonly gear: number; readonly duration: number }
    /** Foot off, and a gear engaged at a speed at which the wheels push the engine `over` % past its limit. */
    | { readonly kind: 'wrongGear'; readonly gear: number; readonly over: number }
    /** Full pedal up a steep road until that time at full load has come, then `cool` s of standing before key off. */
    | { readonly kind: 'hotStop'; readonly load: number; readonly cool: number; readonly duration: number }
    /** Full load for a while, brakes to rest; the engine stops by itself and starts again, the selector left alone. */
    | { readonly kind: 'automaticStop'; readonly load: number; readonly duration: number; readonly restarts: boolean }
    /** Key off for that long (s), then started again, and idle. */
    | { readonly kind: 'restart'; readonly off: number; readonly duration: number }
    | { readonly kind: 'keyOff'; readonly duration: number }
  );
export type PhaseKind = Phase['kind'];
