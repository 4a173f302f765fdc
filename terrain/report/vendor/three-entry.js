// The parts of three.js that templates/viewer.js uses; scripts/bundle-three makes three.min.js of them.
export {
  AmbientLight, BufferAttribute, BufferGeometry, Color, DirectionalLight, DoubleSide, Group,
  LineBasicMaterial, LineSegments, Mesh, MeshLambertMaterial, OrthographicCamera, Scene, Vector3, WebGLRenderer,
} from 'three';
