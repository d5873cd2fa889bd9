export default ({ data, parentElement, setTriggerValue }) => {
  const frame = parentElement.querySelector('.w'), img = frame.querySelector('img'), dot = frame.querySelector('.d')
  const [x0, y0, x1, y1] = data.window
  frame.setAttribute('aria-label', data.alt)
  frame.style.aspectRatio = data.ratio * (x1 - x0) / (y1 - y0); frame.style.maxWidth = 340 * data.ratio * (x1 - x0) / (y1 - y0) + 'px'
  if (img.src !== data.src) img.src = data.src
  img.style.width = 100 / (x1 - x0) + '%'; img.style.left = -100 * x0 / (x1 - x0) + '%'; img.style.top = -100 * y0 / (y1 - y0) + '%'
  let at = data.spot
  const mark = () => {
    dot.hidden = !at
    if (at) { dot.style.left = 100 * (at[0] - x0) / (x1 - x0) + '%'; dot.style.top = 100 * (at[1] - y0) / (y1 - y0) + '%' }
  }
  mark()
  const tell = () => setTriggerValue('tap', { x: Math.min(1, Math.max(0, at[0])), y: Math.min(1, Math.max(0, at[1])) })
  frame.onclick = (event) => {
    if (event.detail === 0) return
    const r = frame.getBoundingClientRect()
    at = [x0 + (x1 - x0) * (event.clientX - r.left) / r.width, y0 + (y1 - y0) * (event.clientY - r.top) / r.height]
    mark(); tell()
  }
  frame.onkeydown = (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key]
    if (step) { at = at || [(x0 + x1) / 2, (y0 + y1) / 2]; at = [at[0] + step[0] * (x1 - x0) / 40, at[1] + step[1] * (y1 - y0) / 40]; mark(); event.preventDefault() }
    else if (event.key === 'Enter' && at) { tell(); event.preventDefault() }
  }
}
