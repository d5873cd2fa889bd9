export default ({ data, parentElement }) => {
  const chart = parentElement.querySelector('.chart')
  if (chart.drawn !== data.svg) { chart.innerHTML = data.svg; chart.drawn = data.svg }
  chart.setAttribute('aria-label', data.alt)
}
