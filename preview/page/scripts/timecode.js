// Labels of frames, as preview/timeline/timecode.py counts them. Frames count from the rundown's first.

function droppedLabels(rate) {
  return rate.drop ? Math.floor(rate.nominal / 15) : 0;
}

function dayFrames(rate) {
  return 24 * 3600 * rate.nominal - droppedLabels(rate) * 9 * 6 * 24;
}

function timecodeLabel(frame, rate) {
  const day = dayFrames(rate);
  const skip = droppedLabels(rate);
  let number = (((rate.firstCount + frame) % day) + day) % day;
  if (skip) {
    const minute = 60 * rate.nominal - skip;
    const tens = Math.floor(number / (10 * minute + skip));
    const rest = number % (10 * minute + skip);
    number += skip * 9 * tens;
    if (rest >= minute + skip) number += skip * Math.floor((rest - skip) / minute);
  }
  const two = (value) => String(value).padStart(2, "0");
  const seconds = Math.floor(number / rate.nominal);
  const clock = [Math.floor(seconds / 3600), Math.floor(seconds / 60) % 60, seconds % 60].map(two).join(":");
  return clock + (rate.drop ? ";" : ":") + two(number % rate.nominal);
}

// The frame that carries a label, or null where no frame does. ":" and ";" are both taken as the show counts.
function frameOfLabel(label, rate) {
  const match = /^\s*(\d{1,2})[:;.](\d{2})[:;.](\d{2})[:;.](\d{2})\s*$/.exec(label);
  if (!match) return null;
  const [hour, minute, second, frames] = match.slice(1).map(Number);
  if (hour > 23 || minute > 59 || second > 59 || frames >= rate.nominal) return null;
  const skip = droppedLabels(rate);
  if (skip && minute % 10 && second === 0 && frames < skip) return null;
  const minutes = hour * 60 + minute;
  const total = (minutes * 60 + second) * rate.nominal + frames - skip * (minutes - Math.floor(minutes / 10));
  const day = dayFrames(rate);
  return (((total - rate.firstCount) % day) + day) % day;
}

// Seconds into a clip at which its n-th frame is surely shown: its middle.
function middleOfFrame(n, rate) {
  return ((n + 0.5) * rate.denominator) / rate.numerator;
}
